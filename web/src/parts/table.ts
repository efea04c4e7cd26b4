// A table with a caption, columns that say whether they hold numbers, and row heads.

import { el, type Child } from "../el";

export interface Column {
  head: Child;
  /** For a column whose head would only be in the way: said, not seen. */
  unseen?: boolean;
  number?: boolean;
}

/** The first cell of a row is its head. A wide table scrolls by itself, so that the page never does. */
export function table(caption: string, columns: Column[], rows: Child[][], seen = true): HTMLElement {
  const look = (at: number): string => (columns[at]?.number ? ".number" : "");
  return el(
    "div.wide",
    { tabindex: 0, role: "group", "aria-label": caption },
    el(
      "table",
      {},
      el(seen ? "caption" : "caption.unseen", {}, caption),
      el("thead", {}, el("tr", {}, ...columns.map((column, at) => el(`th${look(at)}`, { scope: "col" }, column.unseen ? el("span.unseen", {}, column.head) : column.head)))),
      el(
        "tbody",
        {},
        ...rows.map((row) =>
          el("tr", {}, ...row.map((cell, at) => (at === 0 ? el(`th${look(at)}`, { scope: "row" }, cell) : el(`td${look(at)}`, {}, cell)))),
        ),
      ),
    ),
  );
}

/** Name and value, one under the other; what is null is left out. */
export function pairs(rows: [string, Child][]): HTMLElement {
  return el(
    "dl.pairs",
    {},
    ...rows.filter(([, value]) => value !== null && value !== undefined && value !== "").flatMap(([name, value]) => [el("dt", {}, name), el("dd", {}, value)]),
  );
}

export function bullets(lines: Child[]): HTMLElement {
  return el("ul.lines", {}, ...lines.map((line) => el("li", {}, line)));
}
