// Files of one run to take along.

import { address, withQuery } from "../api";
import { el } from "../el";
import { trace as words } from "./words";

export function exportsOf(key: string, run: string): HTMLElement {
  return el(
    "section",
    { "aria-label": words.export },
    el("h2", {}, words.export),
    el(
      "div.buttons",
      {},
      ...Object.entries(words.exports).map(([format, label]) => el("a.button", { href: withQuery(address("orders", key, "runs", run, "export"), { format }), download: true }, label)),
    ),
    el("p.small.muted", {}, words.export_hint),
  );
}
