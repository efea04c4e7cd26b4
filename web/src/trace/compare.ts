// Several runs of the order on the same axes. The choice stands in the address, so that it can be kept and sent.

import { el } from "../el";
import type { JudgedRun } from "../figures/answers";
import { link } from "../place";
import { trace as words } from "./words";

const most = 5;

/** `changed` is told of every choice; the page stays, and with it the focus. */
export function compareOf(run: string, others: string[], runs: Map<string, JudgedRun>, changed: (others: string[]) => void): HTMLElement {
  const choices = [...runs].filter(([id, one]) => id !== run && one.figures);
  const chosen = new Set(others);
  const boxes = choices.map(([id, one]) => {
    const input = el("input", { type: "checkbox", checked: chosen.has(id), onchange: () => choose(id, input.checked) });
    return { id, input, element: el("label", {}, input, one.label) };
  });
  const none = el("button.quiet", { type: "button", onclick: () => boxes.forEach(({ id, input }) => input.checked && ((input.checked = false), choose(id, false))) }, words.all_off);
  const limit = (): void => {
    for (const { id, input } of boxes) input.disabled = !chosen.has(id) && chosen.size >= most;
    none.hidden = chosen.size === 0;
  };
  function choose(id: string, on: boolean): void {
    if (on) chosen.add(id);
    else chosen.delete(id);
    limit();
    changed([...chosen]);
  }
  limit();
  return el(
    "details.compare",
    { open: others.length > 0 },
    el("summary", {}, words.compare),
    el("p.small.muted", {}, choices.length > 0 ? words.compare_hint : words.compare_none),
    none,
    el("div.choices", {}, ...boxes.map(({ element }) => element)),
  );
}

/** The address that shows `run` with others beside it. */
export function compareLink(key: string, run: string, others: string[]): string {
  return link("order", key, "run", run) + (others.length > 0 ? `?${new URLSearchParams(others.map((one) => ["with", one])).toString()}` : "");
}
