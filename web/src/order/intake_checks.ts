// What is wrong with an order as typed, by the name of the field: said at once, before the program is asked. Pure.

import { numberOf } from "../figures/number_text";
import { intake as words } from "./words";

/** As typed: texts by field name; rows of items, specimens and conditions as lists. */
export interface Typed {
  top: Record<string, string>;
  items: Record<string, string>[];
  specimens: Record<string, string>[];
  conditions: Record<string, string>[];
}

/** Field names are "id", or "specimens.1.item" of the second specimen. Absent: nothing is wrong. */
export type Wrong = Map<string, string>;

const needed = ["id", "title", "customer.name", "customer.address", "agreed", "tested_from", "tested_to", "tested_by"];
const names = ["id"];
const days = ["received", "due", "tested_from", "tested_to"];

export function wrongWith(typed: Typed): Wrong {
  const wrong: Wrong = new Map();
  const top = (name: string): string => typed.top[name] ?? "";
  for (const name of needed) if (!top(name)) wrong.set(name, words.missing);
  for (const name of names) if (top(name).length > 80) wrong.set(name, words.too_long);
  for (const name of days) if (top(name) && !/^\d{4}-\d\d-\d\d$/.test(top(name))) wrong.set(name, words.not_a_day);
  inOrder(wrong, typed.top, "received", "tested_from", words.received);
  inOrder(wrong, typed.top, "tested_from", "tested_to", words.tested_from);
  rows(wrong, "items", typed.items, ["id", "description", "condition_on_receipt"]);
  rows(wrong, "specimens", typed.specimens, ["id", "item", "state"]);
  rows(wrong, "conditions", typed.conditions, ["id"]);
  const items = new Set(typed.items.map((item) => item["id"]));
  typed.specimens.forEach((one, at) => {
    if (one["item"] && !items.has(one["item"])) wrong.set(`specimens.${at}.item`, words.no_item);
  });
  typed.conditions.forEach((one, at) => {
    within(wrong, `conditions.${at}.relative_humidity_percent`, one["relative_humidity_percent"], 0, 100);
    within(wrong, `conditions.${at}.temperature_C`, one["temperature_C"], -100, 300);
    inOrder(wrong, one, "conditioned_from", "conditioned_to", words.conditioned_from, `conditions.${at}.`);
  });
  return wrong;
}

function rows(wrong: Wrong, list: string, given: Record<string, string>[], needs: string[]): void {
  const seen = new Set<string>();
  given.forEach((one, at) => {
    for (const name of needs) if (!one[name]) wrong.set(`${list}.${at}.${name}`, words.missing);
    const id = one["id"] ?? "";
    if (id.length > 80) wrong.set(`${list}.${at}.id`, words.too_long);
    if (id && seen.has(id)) wrong.set(`${list}.${at}.id`, words.twice(id));
    seen.add(id);
  });
}

function inOrder(wrong: Wrong, given: Record<string, string>, first: string, second: string, firstWords: string, prefix = ""): void {
  const one = given[first];
  const other = given[second];
  if (one && other && other < one && !wrong.has(prefix + second)) wrong.set(prefix + second, words.before(firstWords));
}

function within(wrong: Wrong, name: string, text: string | undefined, low: number, high: number): void {
  if (!text) return;
  const value = numberOf(text);
  if (value === null) wrong.set(name, words.not_a_number);
  else if (value < low || value > high) wrong.set(name, words.outside(low, high));
}

/** As POST /api/orders takes it: empty texts are left out, times become instants. */
export function requestOf(typed: Typed): Record<string, unknown> {
  const top = (name: string): string | undefined => typed.top[name] || undefined;
  const clean = (row: Record<string, string>): Record<string, unknown> => Object.fromEntries(Object.entries(row).filter(([, value]) => value !== ""));
  return {
    id: top("id"),
    title: top("title"),
    customer: { name: top("customer.name"), address: top("customer.address"), ...(top("customer.contact") ? { contact: top("customer.contact") } : {}) },
    method: { file: top("method") },
    specification: { file: top("specification") },
    decision_rule: { kind: top("rule"), ...(top("rule") === "guarded" ? { guard_times_U: 1 } : {}), agreed: top("agreed") },
    dates: clean(Object.fromEntries(days.map((name) => [name, top(name) ?? ""]))),
    people: { tested_by: top("tested_by") },
    items: typed.items.map(clean),
    specimens: typed.specimens.map(clean),
    conditions: typed.conditions.map((row) => {
      const out = clean(row);
      for (const name of ["relative_humidity_percent", "temperature_C"]) if (row[name]) out[name] = numberOf(row[name]);
      for (const name of ["conditioned_from", "conditioned_to"]) if (row[name]) out[name] = new Date(row[name]).toISOString().replace(".000Z", "Z");
      return out;
    }),
    ...(top("like") ? { like: top("like") } : {}),
  };
}

/** How many places the plan will have: specimens, each face and polarity that the method asks for, and its replicates. */
export function placesOf(method: { faces?: unknown[]; replicates?: number; charging?: { polarities?: string } }, specimens: number): number {
  const faces = Math.max(1, method.faces?.length ?? 1);
  const polarities = method.charging?.polarities === "both" ? 2 : 1;
  return specimens * faces * polarities * (method.replicates ?? 1);
}

/** Where the program says that something is wrong, as a field's name: "specimens[1].item", "dates.tested_to"; a line of a file has none. */
export function fieldOf(where: string, known: Iterable<string>): string | undefined {
  const path = where.replaceAll(/\[(\d+)\]/g, ".$1").replace(/\.file$/, "");
  const names = [...known];
  return names.find((name) => name === path) ?? names.find((name) => path.endsWith(`.${name}`));
}
