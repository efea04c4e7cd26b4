// Orders, materials, lots, states side by side: whether they differ, or are as good as alike.

import { address, get } from "../api";
import { el, fill, type Child } from "../el";
import { failureBox } from "../failure_box";
import { numberOf, probabilityText, significantText, statedText } from "../figures/number_text";
import { drawInto } from "../parts/drawing";
import { choiceField, textField } from "../parts/form";
import { bullets, table } from "../parts/table";
import type { Page, Room } from "../place";
import type { CompareAnswer } from "./answers";
import { addressOf, askAbout } from "./chooser";
import { compare as words, lots as pageWords } from "./words";

const usual_factor = "1.25";

/** #/order?compare=KEY/KEY&by=direction */
export const comparePage: Page = async (place, room) => {
  room.title(words.title);
  const { query } = place;
  const by = choiceField("by", words.by, Object.entries(words.keys).map(([value, label]) => ({ value, words: label })), { value: query.get("by") ?? "source" });
  const level = textField("level", words.level, { optional: true, hint: words.level_hint, value: query.get("level") ?? "" });
  const alike = textField("alike_within", words.alike, { type: "number", value: query.get("alike_within") ?? usual_factor });
  const { keys, answer } = await askAbout(place, room, "compare", words.none_chosen, [
    { field: by, wrong: () => "", asked: () => (by.value() === "source" ? "" : by.value()) },
    { field: level, wrong: () => "", asked: () => level.value() },
    { field: alike, wrong: () => ((numberOf(alike.value()) ?? 0) > 1 ? "" : words.alike_wrong), asked: () => (alike.value() === usual_factor ? "" : alike.value()) },
  ]);
  fill(room.next, el("p", {}, words.next), keys.length > 0 && el("p", {}, el("a", { href: addressOf("lots", keys) }, pageWords.to_lots)));
  if (!answer) return;
  const asked: Record<string, string> = { orders: keys.join("/") };
  for (const name of ["by", "level", "alike_within"]) if (query.get(name)) asked[name] = query.get(name) as string;
  try {
    const came = await get<CompareAnswer>(address("compare"), asked, room.left);
    if (!room.left.aborted) fill(answer, ...said(came, asked, room));
  } catch (thrown) {
    if (!room.left.aborted) fill(answer, failureBox(thrown));
  }
};

const seconds = (value: number | null): string => (value === null ? pageWords.no_figure : `${significantText(value, 3)} s`);
const range = (low: number | null, high: number | null, text: (value: number) => string): string => (low === null || high === null ? pageWords.no_figure : pageWords.between(text(low), text(high)));
const factor = (value: number): string => significantText(value, 3);

function said(came: CompareAnswer, asked: Record<string, string>, room: Room): Child[] {
  const figure = el("figure.wide", { tabindex: 0, role: "group", "aria-label": words.drawing });
  requestAnimationFrame(() => void drawInto(figure, address("compare", "plot"), asked, room.left));
  return [
    el("section.statement", { "aria-label": words.says }, el("h2", {}, words.says), came.level && el("p.muted", {}, words.subject(came.level, came.sources)), bullets(came.reasons)),
    figure,
    el("p.small.muted", {}, words.drawing_note),
    table(
      words.groups,
      [{ head: words.keys[came.by] ?? came.by }, { head: words.specimens, number: true }, { head: words.bounds, number: true }, { head: words.mean, number: true }, { head: words.interval, number: true }, { head: words.spread, number: true }],
      came.groups.map((one) => [
        one.name,
        one.specimens,
        one.specimens - one.measured,
        one.mean_s === null ? one.missing : seconds(one.mean_s),
        range(one.low_s, one.high_s, (value) => seconds(value)),
        one.spread_factor === null ? pageWords.no_figure : factor(one.spread_factor),
      ]),
    ),
    came.pairs.length > 0 &&
      table(
        words.pairs,
        [{ head: words.first }, { head: words.second }, { head: words.ratio, number: true }, { head: words.interval, number: true }, { head: words.by_chance, number: true }, { head: words.not_alike(statedText(came.alike_within)), number: true }],
        came.pairs.map((one) => [
          one.first,
          one.paired ? words.same_specimens(one.second) : one.second,
          one.ratio === null ? pageWords.no_figure : factor(one.ratio),
          range(one.low, one.high, factor),
          probabilityText(one.p),
          probabilityText(one.alike_p),
        ]),
      ),
    el("h2", {}, pageWords.proves_not),
    bullets(came.cautions),
    came.left_out.length > 0 && el("details", {}, el("summary", {}, pageWords.left_out(came.left_out.length)), bullets(came.left_out)),
  ];
}
