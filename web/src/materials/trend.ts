// One material: its decay times over years or months, series by series, and the orders they come from.

import { get } from "../api";
import { el, fill, type Child } from "../el";
import { conformity } from "../figures/conformity";
import { levelText } from "../figures/figure_words";
import { numberOf, significantText } from "../figures/number_text";
import { addressOf } from "../lots/chooser";
import { lots as lotWords } from "../lots/words";
import { choiceField, textField } from "../parts/form";
import { table } from "../parts/table";
import { link, type Page } from "../place";
import type { FindAnswer, FoundOrder, TrendSeries } from "./answers";
import { meanText, trendDrawing } from "./trend_drawing";
import { materials as pageWords, trend as words } from "./words";

/** So many orders the program takes together. */
const together = 100;

export const trendPage: Page = async (place, room) => {
  const material = place.parts[0] as string;
  const by = place.query.get("by") === "month" ? "month" : "year";
  room.title(pageWords.trend_title(material));
  const choose = choiceField("by", words.by, [{ value: "year", words: words.year }, { value: "month", words: words.month }], { value: by });
  choose.input.addEventListener("change", () => void load());
  const limit = textField("limit", words.limit_field, { type: "number", optional: true, hint: words.limit_hint, value: place.query.get("limit") ?? "" });
  let mine: TrendSeries[] = [];
  const drawings = el("div", {});
  const orders = el("div", {});
  limit.input.addEventListener("input", draw);
  fill(room.work, el("p", {}, el("a", { href: link("materials") }, pageWords.back)), el("div.form-grid", {}, choose.element, limit.element), drawings, orders);
  fill(room.next, el("p", {}, el("a.button", { href: "#/materials?predict=1" }, pageWords.predict)));
  await load();
  const found = await get<FindAnswer>("/api/find", { material }, room.left);
  if (room.left.aborted) return;
  const here = [...new Set(found.orders.flatMap((one) => one.keys))].slice(0, together);
  fill(
    orders,
    el("h2", {}, words.orders_heading),
    ordersOf(found.orders),
    here.length > 0 && el("p", {}, el("a", { href: addressOf("lots", here) }, lotWords.of_material), " · ", el("a", { href: addressOf("compare", here) }, lotWords.to_compare)),
    Boolean(found.left_off) && el("p.small.muted", {}, words.left_off(found.left_off as number)),
  );
  async function load(): Promise<void> {
    const { series } = await get<{ series: TrendSeries[] }>("/api/materials/trend", { material, by: choose.value() }, room.left);
    mine = series.filter((one) => one.material === material);
    if (!room.left.aborted) draw();
  }
  function draw(): void {
    if (mine.length === 0) {
      fill(drawings, el("p.empty", {}, words.none));
      return;
    }
    const limit_s = numberOf(limit.value());
    fill(drawings, ...mine.map((one) => seriesOf(one, limit_s !== null && limit_s > 0 ? limit_s : null)), el("p.small.muted", {}, words.note));
  }
};

function seriesOf(series: TrendSeries, limit_s: number | null): HTMLElement {
  const level = levelText(series.level, series.level_kind);
  const name = [series.method, series.conditions, `t(${level})`, series.transcribed ? words.transcribed : ""].filter(Boolean).join(", ");
  return el(
    "section",
    { "aria-label": name },
    el("h2", {}, name),
    trendDrawing(series.periods, level, name, limit_s),
    table(
      words.title,
      [
        { head: words.period },
        { head: words.mean, number: true },
        { head: words.spread, number: true },
        { head: words.shortest, number: true },
        { head: words.longest, number: true },
        { head: words.times, number: true },
        { head: words.bounds },
        { head: words.orders, number: true },
        { head: words.failed, number: true },
      ],
      series.periods.map((one): Child[] => [
        one.period,
        meanText(one),
        one.spread_factor === null ? "–" : significantText(one.spread_factor, 3),
        seconds(one.shortest_s),
        seconds(one.longest_s),
        one.times,
        words.bounds_of(one.longer, one.shorter),
        one.orders ?? "–",
        one.failed ?? "–",
      ]),
      false,
    ),
  );
}

const seconds = (value: number | null): string => (value === null ? "–" : significantText(value, 2));

/** Of several folders with one id each has its link. */
function linksOf(one: FoundOrder): HTMLElement {
  const [key, ...more] = one.keys;
  if (key === undefined) return el("span.nowrap", {}, `${one.order}, ${one.revision}`);
  return el("span.two", {}, el("span.nowrap", {}, el("a", { href: link("order", key) }, one.order), `, ${one.revision}`), more.length > 0 && el("small", {}, words.also_in, ...more.flatMap((other) => [" ", el("a", { href: link("order", other) }, other)])));
}

function ordersOf(orders: FoundOrder[]): HTMLElement {
  return table(
    words.orders_heading,
    [{ head: words.order }, { head: words.customer }, { head: words.lots }, { head: words.tested }, { head: words.statement }],
    orders.map((one) => [
      linksOf(one),
      one.customer,
      [...new Set(one.items.map((item) => item.lot).filter(Boolean))].join(", ") || "–",
      one.tested_to,
      conformity(one.statement),
    ]),
    false,
  );
}
