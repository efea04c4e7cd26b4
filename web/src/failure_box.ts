// A failure on the page: what happened, what is safe, what to do.

import { failure } from "./api";
import { el } from "./el";
import { shell as words } from "./words";

export function failureBox(thrown: unknown): HTMLElement {
  const { what, safe, remedy } = failure(thrown);
  return el(
    "section.failure",
    { role: "alert" },
    el("h2", {}, what),
    el("dl", {}, el("dt", {}, words.safe), el("dd", {}, safe), el("dt", {}, words.remedy), el("dd", {}, remedy)),
  );
}
