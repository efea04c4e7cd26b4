// The two cursors in numbers: a field each, so that a time can be typed, and what lies between them.

import { el, fill } from "../el";
import { fixedText, numberOf, placesFor } from "../figures/number_text";
import type { TraceAnswer } from "./answers";
import { cursorWords, readingAt, type Cursors } from "./cursors";
import { trace as words } from "./words";

export class CursorPanel {
  readonly element: HTMLElement;
  private cursors: Cursors = { a_s: null, b_s: null, active: "a" };
  private readonly a = this.field("a");
  private readonly b = this.field("b");
  private readonly said = el("dl.pairs", { "aria-live": "polite" });

  constructor(private readonly changed: (cursors: Cursors) => void) {
    this.element = el(
      "section.cursors",
      { "aria-label": words.cursors },
      el("h2", {}, words.cursors),
      el("div.two-fields", {}, this.labelled("A", this.a), this.labelled("B", this.b)),
      this.said,
      el("p.small.muted", {}, words.cursors_hint),
    );
  }

  show(cursors: Cursors, trace: TraceAnswer | null, column_s: number, noise_V: number): void {
    this.cursors = cursors;
    const reading = (at_s: number | null) => (at_s === null || !trace ? null : readingAt(trace.specimen.time_s, trace.specimen.volts_V, at_s, column_s));
    const said = cursorWords(cursors, reading(cursors.a_s), reading(cursors.b_s), column_s, noise_V);
    const places = placesFor(column_s);
    for (const [input, at_s, letter] of [[this.a, cursors.a_s, "a"], [this.b, cursors.b_s, "b"]] as const) {
      if (document.activeElement !== input) input.value = at_s === null ? "" : fixedText(at_s, places).replace("−", "-");
      input.classList.toggle("active", cursors.active === letter);
    }
    const line = (name: string, value: string | null): HTMLElement[] => (value ? [el("dt", {}, name), el("dd", {}, value)] : []);
    fill(this.said, ...line("A", said.a), ...line("B", said.b), ...line(words.difference, said.difference), ...line(words.ratio, said.ratio));
  }

  private labelled(letter: string, input: HTMLElement): HTMLElement {
    return el("label", {}, el("span.small.muted", {}, words.cursor(letter)), input);
  }

  private field(letter: "a" | "b"): HTMLInputElement {
    const input = el("input", {
      inputmode: "decimal",
      autocomplete: "off",
      onfocus: () => this.cursors.active !== letter && this.changed({ ...this.cursors, active: letter }),
      onchange: () => {
        const at_s = numberOf(input.value);
        this.changed({ ...this.cursors, active: letter, [letter === "a" ? "a_s" : "b_s"]: at_s });
      },
    });
    return input;
  }
}
