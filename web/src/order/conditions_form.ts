// What became known of the conditions since the intake: entered once, and what stands there is not changed.

import { address, failure, post } from "../api";
import { el, fill } from "../el";
import { failureBox } from "../failure_box";
import { numberOf } from "../figures/number_text";
import { onEdited, textField, wasLeft, type Field } from "../parts/form";
import type { OrderConditions } from "./answers";
import { fieldOf } from "./intake_checks";
import { conditionsForm as words } from "./words";

const asked = [
  { name: "relative_humidity_percent", label: words.humidity, type: "number", low: 0, high: 100 },
  { name: "temperature_C", label: words.temperature, type: "number", low: -100, high: 300 },
  { name: "conditioned_from", label: words.from, type: "datetime-local", low: 0, high: 0 },
  { name: "conditioned_to", label: words.to, type: "datetime-local", low: 0, high: 0 },
] as const;

const isAbsent = (one: OrderConditions, name: (typeof asked)[number]["name"]): boolean => one[name] === null || one[name] === undefined;

export function lacksSomething(one: OrderConditions): boolean {
  return asked.some(({ name }) => isAbsent(one, name));
}

export function conditionsForm(key: string, one: OrderConditions, entered: () => void): HTMLElement {
  const open = asked.filter(({ name }) => isAbsent(one, name));
  const fields = open.map(({ name, label, type }) => textField(name, label, { type, optional: true, ...(type === "datetime-local" ? { hint: words.local_time } : {}) }));
  const says = el("div", { role: "alert" });
  const wrongWith = (field: Field): string => {
    const about = open.find(({ name }) => name === field.name);
    if (!field.value() || about?.type !== "number") return "";
    const value = numberOf(field.value());
    if (value === null) return words.not_a_number;
    return value < about.low || value > about.high ? words.outside(about.low, about.high) : "";
  };
  for (const field of fields) onEdited(field, () => field.say(wasLeft(field) ? wrongWith(field) : ""));
  const valueOf = (field: Field): number | string | null => (open.find(({ name }) => name === field.name)?.type === "number" ? numberOf(field.value()) : new Date(field.value()).toISOString().replace(".000Z", "Z"));

  async function send(event: Event): Promise<void> {
    event.preventDefault();
    for (const field of fields) field.say(wrongWith(field));
    const wrong = fields.find((field) => wrongWith(field));
    const given = fields.filter((field) => field.value());
    if (wrong || given.length === 0) {
      (wrong ?? fields[0])?.input.focus();
      return;
    }
    try {
      await post(address("orders", key, "conditions"), { id: one.id, ...Object.fromEntries(given.map((field) => [field.name, valueOf(field)])) });
      entered();
    } catch (thrown) {
      fill(says, failureBox(thrown));
      const { where, what } = failure(thrown);
      const named = fieldOf(where, fields.map((field) => field.name));
      fields.find((field) => field.name === named)?.say(what);
    }
  }
  return el(
    "details",
    {},
    el("summary", {}, words.enter(one.id)),
    el("form", { novalidate: true, onsubmit: (event: Event) => void send(event) }, el("div.form-grid", {}, ...fields.map((field) => field.element)), says, el("button", { type: "submit" }, words.keep)),
  );
}
