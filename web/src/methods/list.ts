// Every shipped method and specification, with what it works on and which orders cite it.

import { get } from "../api";
import { el, fill, type Child } from "../el";
import { table } from "../parts/table";
import { link, type Page } from "../place";
import type { DocumentLine, DocumentsAnswer } from "./answers";
import { methods as words } from "./words";

export const listPage: Page = async (_place, room) => {
  room.title(words.title);
  fill(room.next, el("p", {}, words.next), el("p", {}, el("a.button", { href: "#/methods?order=" }, words.rejudge)));
  const [methods, specifications] = await Promise.all([get<DocumentsAnswer>("/api/methods", {}, room.left), get<DocumentsAnswer>("/api/specifications", {}, room.left)]);
  fill(room.work, listOf(words.methods, methods.documents), listOf(words.specifications, specifications.documents));
};

export function documentHref(id: string, kind: string, beside = ""): string {
  return `${link("methods", id)}?kind=${kind}${beside ? `&beside=${encodeURIComponent(beside)}` : ""}`;
}

function listOf(heading: string, documents: DocumentLine[]): HTMLElement {
  return el(
    "section",
    {},
    el("h2", {}, heading),
    table(
      heading,
      [{ head: words.document }, { head: words.edition }, { head: words.apparatus }, { head: words.used }],
      documents.map((one): Child[] => [
        el("span.two", {}, el("a", { href: documentHref(one.id, one.kind) }, one.title), el("small.muted", {}, one.id)),
        one.edition,
        one.apparatus_words,
        one.orders.length > 0 ? el("span", {}, ...one.orders.flatMap((key, at) => [at > 0 && ", ", el("a", { href: link("order", key) }, key)])) : el("span.muted", {}, words.none),
      ]),
      false,
    ),
  );
}
