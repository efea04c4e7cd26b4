// A document as rows of name and value that a person reads, and two of them compared. Pure.

import { inWords, levelText } from "../figures/figure_words";
import { statedText } from "../figures/number_text";

export interface Row {
  name: string;
  value: string;
  clause: string;
}

const left_out = new Set(["id", "edition", "title", "source", "notice", "schema", "value_sources", "remarks", "file"]);
const units: [RegExp, string][] = [
  [/_percent(_per_decade)?$/, "%"],
  [/_C(_per_decade)?$/, "°C"],
  [/_V$/, "V"],
  [/_s$/, "s"],
  [/_h$/, "h"],
];

/** As `method` or `specification` in ebbtide.record/1: nested keys become names, units stand behind the numbers. */
export function rowsOf(understood: Record<string, unknown>): Row[] {
  const sources = (understood["value_sources"] ?? {}) as Record<string, string>;
  const rows: Row[] = [];
  for (const [key, value] of Object.entries(understood)) if (!left_out.has(key)) walk(rows, [key], value, sources);
  return rows;
}

function walk(rows: Row[], path: string[], value: unknown, sources: Record<string, string>): void {
  if (value === null || value === undefined || value === "") return;
  if (Array.isArray(value)) {
    if (value.length === 0) return;
    if (value.every((one) => typeof one !== "object" || isLevel(one))) rows.push(row(path, value.map((one) => said(one, path)).join(", "), sources));
    else value.forEach((one, at) => walk(rows, [...path, nameOf(one) || String(at + 1)], one, sources));
    return;
  }
  if (isLevel(value) || isTolerance(value) || typeof value !== "object") {
    rows.push(row(path, said(value, path), sources));
    return;
  }
  for (const [key, inner] of Object.entries(value)) if (key !== "id") walk(rows, [...path, key], inner, sources);
}

const isLevel = (value: unknown): value is { kind: string; value: number; text?: string } => typeof value === "object" && value !== null && "kind" in value && "value" in value;
const isTolerance = (value: unknown): value is { nominal: number; plus_minus: number } => typeof value === "object" && value !== null && "nominal" in value && "plus_minus" in value;
const nameOf = (value: unknown): string => (typeof value === "object" && value !== null && "id" in value ? String(value.id) : "");

function said(value: unknown, path: string[]): string {
  const unit = unitOf(path[path.length - 1] ?? "");
  if (isLevel(value)) return value.kind === "none" ? "none" : (value.text ?? levelText(value.value, value.kind));
  if (isTolerance(value)) return `${statedText(value.nominal)}${unit} ± ${statedText(value.plus_minus)}${unit}`;
  if (typeof value === "number") return statedText(value) + unit;
  if (typeof value === "boolean") return value ? "yes" : "no";
  return inWords(String(value)).replace("<=", "≤").replace(">=", "≥");
}

function unitOf(key: string): string {
  const unit = units.find(([ending]) => ending.test(key))?.[1];
  return unit ? ` ${unit}` : "";
}

function row(path: string[], value: string, sources: Record<string, string>): Row {
  const key = path.join(".");
  const clause = sources[key] ?? Object.entries(sources).find(([name]) => name.startsWith(`${key}.`) || key.startsWith(`${name}.`))?.[1] ?? "";
  const words = path.filter((part) => part !== "any_of" && part !== "demands").map((part) => inWords(units.reduce((name, [ending]) => name.replace(ending, ""), part)));
  return { name: words.join(", "), value, clause };
}

export interface Compared {
  name: string;
  here: string | null;
  there: string | null;
  /** "≠" where they differ, "=" where not; a sign, so that colour is not needed. */
  sign: "≠" | "=" | "+" | "−";
}

/** Rows of both by name; what differs first, in the order of the documents. */
export function compared(here: Row[], there: Row[]): Compared[] {
  const other = new Map(there.map((one) => [one.name, one.value]));
  const out: Compared[] = here.map((one) => {
    const value = other.get(one.name) ?? null;
    other.delete(one.name);
    return { name: one.name, here: one.value, there: value, sign: value === null ? "+" : value === one.value ? "=" : "≠" };
  });
  for (const [name, value] of other) out.push({ name, here: null, there: value, sign: "−" });
  return [...out.filter((one) => one.sign !== "="), ...out.filter((one) => one.sign === "=")];
}
