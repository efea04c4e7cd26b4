// Rows of fields that are added and removed: items, specimens, conditions. A new specimen follows the last one.

import { el, fill } from "../el";
import { onEdited, textField, type Field, type FieldOptions } from "../parts/form";
import { intake as words } from "./words";

export interface RowField extends FieldOptions {
  name: string;
  label: string;
}

interface Row {
  fields: Field[];
}

export class Rows {
  readonly element = el("div.rows", {});
  private rows: Row[] = [];

  constructor(
    private readonly list: string,
    private readonly named: (count: number) => string,
    private readonly another: string,
    given: Record<string, string>[],
    private readonly columns: RowField[],
    private readonly changed: () => void,
  ) {
    for (const one of given) this.rows.push(this.made(one));
    this.draw();
  }

  values(): Record<string, string>[] {
    return this.rows.map((row) => Object.fromEntries(row.fields.map((field) => [field.name, field.value()])));
  }

  /** By "specimens.1.item". */
  fields(): [string, Field][] {
    return this.rows.flatMap((row, at) => row.fields.map((field): [string, Field] => [`${this.list}.${at}.${field.name}`, field]));
  }

  private made(values: Record<string, string>): Row {
    const fields = this.columns.map((column) => textField(column.name, column.label, { ...column, value: values[column.name] ?? "" }));
    for (const field of fields) onEdited(field, this.changed);
    return { fields };
  }

  private draw(): void {
    fill(
      this.element,
      ...this.rows.map((row, at) =>
        el(
          "div.row",
          { role: "group", "aria-label": this.named(at + 1) },
          ...row.fields.map((field) => field.element),
          this.rows.length > 1 &&
            el("button.quiet", { type: "button", "aria-label": `${words.remove}: ${this.named(at + 1)}`, onclick: () => this.remove(at) }, words.remove),
        ),
      ),
      el("button", { type: "button", onclick: () => this.add() }, this.another),
    );
  }

  private add(): void {
    const last = this.values().at(-1) ?? {};
    this.rows.push(this.made({ ...last, id: nextName(last["id"] ?? "") }));
    this.draw();
    this.changed();
    this.rows.at(-1)?.fields[0]?.input.focus();
  }

  private remove(at: number): void {
    this.rows.splice(at, 1);
    this.draw();
    this.changed();
    this.rows[Math.min(at, this.rows.length - 1)]?.fields[0]?.input.focus();
  }
}

/** "A1" is followed by "A2", "W09" by "W10", "dry" by "dry-2". */
export function nextName(name: string): string {
  const digits = /\d+$/.exec(name)?.[0];
  if (!digits) return name ? `${name}-2` : "";
  return name.slice(0, -digits.length) + String(Number(digits) + 1).padStart(digits.length, "0");
}
