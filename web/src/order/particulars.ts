// What the order says: items and specimens, conditions against what the method asks, dates, people, files.

import { el, type Child } from "../el";
import { bullets, pairs, table } from "../parts/table";
import { fixedText, instantText, statedText, unbrokenShort } from "../figures/number_text";
import { link } from "../place";
import type { OrderAnswer, OrderConditions, Tolerance } from "./answers";
import { conditionsForm, lacksSomething } from "./conditions_form";
import { ruleText } from "./statement";
import { particulars as words } from "./words";

export function conditionsOf(answer: OrderAnswer, entered: () => void): HTMLElement {
  const asked = answer.method.conditioning ?? {};
  const asks = [
    asked.relative_humidity_percent && `${words.humidity} ${toleranceText(asked.relative_humidity_percent, "%")}`,
    asked.temperature_C && `${words.temperature} ${toleranceText(asked.temperature_C, "°C")}`,
    hoursAsked(asked.at_least_h ?? null, asked.at_most_h ?? null),
  ].filter(Boolean);
  return el(
    "div",
    {},
    table(
      words.conditions,
      [{ head: words.id }, { head: words.humidity, number: true }, { head: words.temperature, number: true }, { head: words.from }, { head: words.to }, { head: words.time, number: true }],
      answer.order.conditions.map((one) => [
        one.id,
        judged(one.relative_humidity_percent, asked.relative_humidity_percent, "%"),
        judged(one.temperature_C, asked.temperature_C, "°C"),
        one.conditioned_from ? instantText(one.conditioned_from) : words.not_stated,
        one.conditioned_to ? instantText(one.conditioned_to) : words.not_stated,
        hoursOf(one, asked.at_least_h ?? null, asked.at_most_h ?? null),
      ]),
      false,
    ),
    ...answer.order.conditions.filter(lacksSomething).map((one) => conditionsForm(answer.key, one, entered)),
    el("p.small.muted", {}, asks.length > 0 ? `${words.method_asks} ${asks.join("; ")}.` : words.method_asks_nothing),
  );
}

/** Beside the value the word, where it lies outside what is asked. */
function judged(value: number | null | undefined, asked: Tolerance | null | undefined, unit: string): Child {
  if (value === null || value === undefined) return el("span.muted", {}, words.not_stated);
  const outside = asked && Math.abs(value - asked.nominal) > asked.plus_minus + 1e-9;
  return `${statedText(value)} ${unit}${outside ? ` ○ ${words.outside}` : ""}`;
}

export function hoursOf(one: OrderConditions, least: number | null, most: number | null): string {
  if (!one.conditioned_from || !one.conditioned_to) return words.not_stated;
  const hours = (Date.parse(one.conditioned_to) - Date.parse(one.conditioned_from)) / 3_600_000;
  const wrong = (least !== null && hours < least) || (most !== null && hours > most);
  return `${fixedText(hours, 1)} h${wrong ? ` ○ ${words.outside}` : ""}`;
}

function toleranceText(asked: Tolerance, unit: string): string {
  return `${statedText(asked.nominal)} ${unit} ± ${statedText(asked.plus_minus)} ${unit}`;
}

function hoursAsked(least: number | null, most: number | null): string {
  if (least === null && most === null) return "";
  const hours = most === null ? words.at_least(statedText(least as number)) : least === null ? words.at_most(statedText(most)) : words.between(statedText(least), statedText(most));
  return `${words.time} ${hours}`;
}

export function particularsOf(answer: OrderAnswer): HTMLElement {
  const { order } = answer;
  return el(
    "div",
    {},
    el(
      "div.columns",
      {},
      pairs([
        [words.customer, el("span.two", {}, order.customer.name, el("small.muted", {}, [order.customer.address, order.customer.contact].filter(Boolean).join("; ")))],
        [words.received, order.received ?? words.not_stated],
        [words.due, order.due ?? words.not_stated],
        [words.tested, words.between_days(order.tested_from, order.tested_to)],
        [words.tested_by, order.tested_by],
        [words.issued, order.issued ? words.issued_by(order.issued, order.authorised_by ?? "") : words.not_yet],
      ]),
      pairs([
        [words.method, documentLink("method", answer.method.id, answer.method.edition)],
        [words.specification, documentLink("specification", answer.specification.id, answer.specification.edition)],
        [words.rule, el("span.two", {}, ruleText(order.decision_rule), el("small.muted", {}, order.decision_rule.agreed))],
        [words.bench, answer.bench ? `${answer.bench.id}, ${answer.bench.revision}` : words.no_bench],
        [words.sampling, order.sampling_plan ?? words.not_stated],
      ]),
    ),
    table(
      words.items,
      [{ head: words.id }, { head: words.description }, { head: words.lot }, { head: words.supplier }, { head: words.condition }],
      order.items.map((item) => [item.id, item.description, unbrokenShort(item.lot) || "–", unbrokenShort(item.supplier) || "–", item.condition_on_receipt]),
    ),
    table(
      words.specimens,
      [{ head: words.id }, { head: words.item }, { head: words.direction }, { head: words.place }, { head: words.state }],
      order.specimens.map((one) => [one.id, one.item, one.direction || "–", one.place || "–", one.state]),
    ),
    order.deviations.length > 0 && el("div", {}, el("h3", {}, words.deviations), bullets(order.deviations)),
    filesOf(answer),
  );
}

function documentLink(kind: string, id: string, edition: string): HTMLElement {
  return el("span.two", {}, el("a", { href: `${link("methods", id)}?kind=${kind}` }, id), el("small.muted", {}, edition));
}

function filesOf(answer: OrderAnswer): HTMLElement {
  return el(
    "details",
    {},
    el("summary", {}, words.files(answer.inputs.length)),
    table(
      words.files_caption,
      [{ head: words.role }, { head: words.name }, { head: words.bytes, number: true }, { head: "SHA-256" }],
      answer.inputs.map((one) => [one.role, one.name, one.bytes.toLocaleString("en").replaceAll(",", " "), el("code.hash", {}, one.sha256)]),
      false,
    ),
  );
}
