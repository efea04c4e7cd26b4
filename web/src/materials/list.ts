// The materials in the ledger, found by typing.

import { get } from "../api";
import { el, fill } from "../el";
import { significantText } from "../figures/number_text";
import { table } from "../parts/table";
import { link, type Page } from "../place";
import type { Material, MaterialsAnswer } from "./answers";
import { materials as words } from "./words";

export const listPage: Page = async (_place, room) => {
  room.title(words.title);
  fill(room.next, el("p", {}, words.next), el("p", {}, el("a.button", { href: "#/materials?predict=1" }, words.predict)));
  const answer = await get<MaterialsAnswer>("/api/materials", {}, room.left);
  if (answer.ledger === null) {
    fill(room.work, el("p.empty", {}, words.no_ledger));
    return;
  }
  if (answer.materials.length === 0) {
    fill(room.work, el("p.empty", {}, words.empty(answer.ledger)));
    return;
  }
  const search = el("input", { id: "material-search", type: "search", autocomplete: "off", oninput: show });
  const count = el("p.small.muted", { role: "status" });
  const shown = el("div", {});
  fill(room.work, el("div.field", {}, el("label", { for: "material-search" }, words.search), search), count, shown);
  show();
  function show(): void {
    const wanted = search.value.toLowerCase().split(/\s+/).filter(Boolean);
    const found = answer.materials.filter((one) => wanted.every((word) => one.material.toLowerCase().includes(word)));
    fill(count, words.found(found.length, answer.materials.length));
    fill(shown, found.length > 0 ? listOf(found) : el("p.empty", {}, words.none_found));
  }
};

function listOf(found: Material[]): HTMLElement {
  return table(
    words.title,
    [{ head: words.material }, { head: words.years }, { head: words.times, number: true }, { head: words.last_mean, number: true }],
    found.map((one) => [el("a", { href: link("materials", one.material) }, one.material), words.of_years(one.first, one.last), one.times, latestMean(one)]),
    false,
  );
}

/** Of the newest period that has one; two digits, for spread is no uncertainty to go by. */
function latestMean(material: Material): string {
  const periods = material.series.filter((series) => !series.transcribed).flatMap((series) => series.periods.filter((period) => period.mean_s !== null));
  const last = periods.reduce<(typeof periods)[number] | undefined>((newest, one) => (!newest || one.period > newest.period ? one : newest), undefined);
  return last ? `${significantText(last.mean_s as number, 2)} s` : "–";
}
