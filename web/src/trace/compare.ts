// Several runs of the order on the same axes. The choice stands in the address, so that it can be kept and sent.

import { el } from "../el";
import type { JudgedRun } from "../figures/answers";
import { go, link } from "../place";
import { trace as words } from "./words";

const most = 5;

export function compareOf(key: string, run: string, others: string[], runs: Map<string, JudgedRun>): HTMLElement {
  const choices = [...runs].filter(([id, one]) => id !== run && one.figures);
  const chosen = new Set(others);
  const box = ([id, one]: [string, JudgedRun]): HTMLElement => {
    const input = el("input", {
      type: "checkbox",
      checked: chosen.has(id),
      disabled: !chosen.has(id) && chosen.size >= most,
      onchange: () => {
        if (input.checked) chosen.add(id);
        else chosen.delete(id);
        go(compareLink(key, run, [...chosen]));
      },
    });
    return el("label", {}, input, one.label);
  };
  return el(
    "details.compare",
    { open: others.length > 0 },
    el("summary", {}, words.compare),
    el("p.small.muted", {}, choices.length > 0 ? words.compare_hint : words.compare_none),
    others.length > 0 && el("button.quiet", { type: "button", onclick: () => go(compareLink(key, run, [])) }, words.all_off),
    el("div.choices", {}, ...choices.map(box)),
  );
}

/** The address that shows `run` with others beside it. */
export function compareLink(key: string, run: string, others: string[]): string {
  return link("order", key, "run", run) + (others.length > 0 ? `?${new URLSearchParams(others.map((one) => ["with", one])).toString()}` : "");
}
