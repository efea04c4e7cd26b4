// What resistivity meets a limit at this bench: a question in two numbers, the answer in one, and the curve behind it.

import { get, post } from "../api";
import { el, fill, svg } from "../el";
import { failureBox } from "../failure_box";
import { numberOf, prefixedText, significantText, statedText } from "../figures/number_text";
import { Scale } from "../figures/scale";
import type { OrdersAnswer } from "../order/answers";
import { choiceField, onEdited, textField, wasLeft, type Field } from "../parts/form";
import { table } from "../parts/table";
import { link, type Page } from "../place";
import type { PredictAnswer } from "./answers";
import { materials as pageWords, predict as words } from "./words";

export const predictPage: Page = async (_place, room) => {
  room.title(words.title);
  fill(room.next, el("p", {}, words.next));
  const { orders } = await get<OrdersAnswer>("/api/orders", {}, room.left);
  const readable = orders.filter((one) => !one.error);
  if (readable.length === 0) {
    fill(room.work, el("p.empty", {}, words.no_bench));
    return;
  }
  const bench = choiceField("order", words.bench, readable.map((one) => ({ value: one.key, words: `${one.id} · ${one.title}` })));
  const level = textField("levels", words.level, { value: "10 %", hint: words.level_hint });
  const limit = textField("meets_s", words.limit, { type: "number", value: "0.5", hint: words.limit_hint });
  const from = textField("from", words.from, { type: "number", value: "1e9" });
  const to = textField("to", words.to, { type: "number", value: "1e13" });
  const backed = el("input", { type: "checkbox", name: "backed" });
  const fields = [bench, level, limit, from, to];
  const answer = el("div", { "aria-live": "polite" });
  const form = el(
    "form",
    { novalidate: true, onsubmit: ask },
    el("div.form-grid", {}, ...fields.map((field) => field.element)),
    el("label", {}, backed, words.backed),
    el("div.buttons", {}, el("button.main", { type: "submit" }, words.ask)),
  );
  fill(room.work, el("p", {}, el("a", { href: link("materials") }, pageWords.back)), form, answer);
  for (const field of fields) onEdited(field, () => check(false));

  function check(all: boolean): Field | undefined {
    const low = numberOf(from.value());
    const high = numberOf(to.value());
    const seconds = numberOf(limit.value());
    const wrong: [Field, string][] = [
      [level, level.value() ? "" : words.level_wrong],
      [limit, seconds !== null && seconds > 0 ? "" : words.limit_wrong],
      [from, low !== null && low > 0 ? "" : words.range_wrong],
      [to, high !== null && low !== null && high > low ? "" : words.range_wrong],
    ];
    for (const [field, what] of wrong) field.say(all || wasLeft(field) ? what : "");
    return wrong.find(([, what]) => what)?.[0];
  }
  async function ask(event: Event): Promise<void> {
    event.preventDefault();
    const wrong = check(true);
    if (wrong) {
      wrong.input.focus();
      return;
    }
    fill(answer, el("p.muted", {}, words.asking));
    try {
      const came = await post<PredictAnswer>("/api/predict", {
        order: bench.value(),
        levels: level.value(),
        meets_s: numberOf(limit.value()),
        sweep: `${from.value()}:${to.value()}`,
        ...(backed.checked ? { backed: true } : {}),
      });
      if (!room.left.aborted) fill(answer, answerOf(came));
    } catch (thrown) {
      fill(answer, failureBox(thrown));
    }
  }
};

function answerOf(came: PredictAnswer): HTMLElement {
  const level = came.sweep[0]?.levels[0]?.level ?? "";
  const highest = came.highest_that_meets_ohm_sq;
  const limit = came.meets_s === null ? "" : statedText(came.meets_s);
  return el(
    "div",
    {},
    highest === null ? el("p", {}, words.no_answer) : el("p.lead", {}, words.answer(resistivityText(highest, came.u_capacitance), level, limit)),
    el("p", {}, words.operator(came.operator), ", ", words.capacitance[came.capacitance_source] ?? came.capacitance_source, ". ", came.caution),
    drawing(came, level),
    table(
      words.table,
      [{ head: words.resistivity, number: true }, ...(came.sweep[0]?.levels ?? []).map((one) => ({ head: words.y(one.level), number: true })), { head: words.constant, number: true }, { head: words.outcome }],
      came.sweep.map((sheet) => [
        significantText(sheet.surface_resistivity_ohm_sq, 2),
        ...sheet.levels.map((one) => secondsText(one.decay_s)),
        secondsText(sheet.time_constant_s),
        sheet.meets === null ? "–" : sheet.meets ? `● ${words.meets}` : `■ ${words.does_not}`,
      ]),
    ),
  );
}

/** Two digits: a calculation from lengths knows no more; one where the capacitance is known to worse than a tenth. */
export function resistivityText(ohm: number, u_capacitance: number): string {
  return `${significantText(ohm, u_capacitance > 0.1 ? 1 : 2)} Ω`;
}

const secondsText = (value: number): string => (value > 0 ? prefixedText(value, 2, "s") : words.at_once);

const width = 720;
const height = 300;

function drawing(came: PredictAnswer, level: string): SVGElement | null {
  const points = came.sweep.map((sheet) => ({ x: sheet.surface_resistivity_ohm_sq, y: sheet.levels[0]?.decay_s ?? 0 })).filter((point) => point.y > 0);
  if (points.length < 2) return null;
  const limit_s = came.meets_s;
  const times = [...points.map((point) => point.y), ...(limit_s ? [limit_s] : [])];
  const x = new Scale("logarithmic", Math.min(...points.map((point) => point.x)), Math.max(...points.map((point) => point.x)), 64, width - 90);
  const y = new Scale("logarithmic", Math.min(...times) / 1.5, Math.max(...times) * 1.5, height - 44, 18);
  const text = (at: number, down: number, content: string, fill: string, anchor = "start"): SVGElement => svg("text", { x: at, y: down, fill: `var(--${fill})`, "font-size": 11, "text-anchor": anchor }, content);
  const line = (x1: number, y1: number, x2: number, y2: number, stroke: string, dash?: string): SVGElement => svg("line", { x1, y1, x2, y2, stroke: `var(--${stroke})`, "stroke-width": 1, "stroke-dasharray": dash });
  const picture = svg("svg.drawing", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": words.drawing }, line(64, 18, 64, height - 44, "muted"), line(64, height - 44, width - 90, height - 44, "muted"));
  for (const tick of y.ticks(6)) picture.append(line(60, y.at(tick.value), 64, y.at(tick.value), "muted"), text(57, y.at(tick.value) + 4, tick.text, "muted", "end"));
  for (const tick of x.ticks(6)) picture.append(line(x.at(tick.value), height - 44, x.at(tick.value), height - 40, "muted"), text(x.at(tick.value), height - 27, tick.text, "muted", "middle"));
  picture.append(text(0, 10, words.y(level), "muted"), text(width - 90, height - 8, words.x, "muted", "end"));
  picture.append(svg("polyline", { points: points.map((point) => `${x.at(point.x).toFixed(1)},${y.at(point.y).toFixed(1)}`).join(" "), fill: "none", stroke: "var(--positive)", "stroke-width": 1.5 }));
  if (limit_s) picture.append(line(64, y.at(limit_s), width - 90, y.at(limit_s), "ink", "5 4"), text(width - 84, y.at(limit_s) + 4, words.limit_at(statedText(limit_s)), "ink"));
  const highest = came.highest_that_meets_ohm_sq;
  if (highest && limit_s && highest >= x.low && highest <= x.high) {
    picture.append(line(x.at(highest), y.at(limit_s), x.at(highest), height - 44, "ink", "2 3"), svg("circle", { cx: x.at(highest), cy: y.at(limit_s), r: 4, fill: "var(--paper)", stroke: "var(--ink)", "stroke-width": 1.4 }));
    picture.append(text(x.at(highest) - 8, y.at(limit_s) - 8, resistivityText(highest, came.u_capacitance), "ink", "end"));
  }
  return picture;
}
