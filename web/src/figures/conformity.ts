// A statement is a word with a shape: filled circle, half circle, filled square, open circle. Colour adds nothing to it.

import { el, svg } from "../el";
import type { Conformity } from "./answers";

export type Shape = "filled circle" | "left half circle" | "right half circle" | "filled square" | "open circle";

const shapes: Record<Conformity, Shape> = {
  pass: "filled circle",
  "conditional pass": "left half circle",
  "conditional fail": "right half circle",
  fail: "filled square",
  void: "open circle",
};

/** The shape of an outcome; null for a word that is none. */
export function shapeOf(outcome: string): Shape | null {
  return Object.hasOwn(shapes, outcome) ? shapes[outcome as Conformity] : null;
}

/** The shape beside the word: it stands in any sentence. The word is what a screen reader reads; of what is no statement of conformity its own. */
export function conformity(outcome: string, word: string = outcome): HTMLElement {
  const shape = shapeOf(outcome);
  return el(`span.conformity.${outcome.replace(" ", "_")}`, {}, shape && drawn(shape), word);
}

function drawn(shape: Shape): SVGElement {
  const half = (side: number): SVGElement =>
    svg("path", { d: `M8 1.5a6.5 6.5 0 0 ${side < 0 ? 0 : 1} 0 13z`, fill: "currentColor" });
  const ring = (filled: boolean): SVGElement =>
    svg("circle", { cx: 8, cy: 8, r: 6.5, fill: filled ? "currentColor" : "none", stroke: "currentColor", "stroke-width": 1.3 });
  const picture = svg("svg.mark", { viewBox: "0 0 16 16", "aria-hidden": "true" });
  if (shape === "filled square") picture.append(svg("rect", { x: 2, y: 2, width: 12, height: 12, fill: "currentColor" }));
  else picture.append(ring(shape === "filled circle"));
  if (shape === "left half circle") picture.append(half(-1));
  if (shape === "right half circle") picture.append(half(1));
  return picture;
}
