// Conformity as a word with a shape: filled circle, half circle, filled square, open circle. Colour only helps.

import { el, svg } from "./el";
import { conformity as words } from "./words";

export type Conformity = keyof typeof words;

function shape(word: Conformity): SVGElement[] {
  const ring = () => svg("circle", { cx: 6, cy: 6, r: 5, fill: "none", "stroke-width": 2 });
  switch (word) {
    case "pass":
      return [svg("circle", { cx: 6, cy: 6, r: 6 })];
    case "conditional_pass":
      return [ring(), svg("path", { d: "M6 0a6 6 0 0 1 0 12z" })];
    case "conditional_fail":
      return [ring(), svg("path", { d: "M0 6a6 6 0 0 0 12 0z" })];
    case "fail":
      return [svg("rect", { x: 0.5, y: 0.5, width: 11, height: 11 })];
    case "void":
      return [ring()];
  }
}

/** Any other word stands as it is, without a shape. */
export function conformity(word: string): HTMLElement {
  if (!Object.hasOwn(words, word)) return el("span", {}, word);
  const known = word as Conformity;
  return el(
    `span.conformity.${known}`,
    {},
    svg("svg", { viewBox: "0 0 12 12", "aria-hidden": "true" }, ...shape(known)),
    words[known],
  );
}
