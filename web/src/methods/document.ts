// One document as a person reads it: what it asks in sentences, then value by value with its clause; or two, compared.

import { address, get } from "../api";
import { el, fill, type Child } from "../el";
import { failureBox } from "../failure_box";
import { choiceField } from "../parts/form";
import { bullets, pairs, table } from "../parts/table";
import { link, type Page } from "../place";
import type { DocumentAnswer, DocumentLine, DocumentsAnswer } from "./answers";
import { compared, rowsOf } from "./flat";
import { documentHref } from "./list";
import { methods as words } from "./words";

export const documentPage: Page = async (place, room) => {
  const id = place.parts[0] as string;
  const kind = place.query.get("kind") === "specification" ? "specification" : "method";
  const list = kind === "specification" ? "specifications" : "methods";
  room.title(id);
  const [one, all] = await Promise.all([get<DocumentAnswer>(address(list, id), {}, room.left), get<DocumentsAnswer>(address(list), {}, room.left)]);
  room.title(one.document.title);
  const body = el("div", {});
  const choose = choiceField("beside", words.compare, [{ value: "", words: words.compare_none }, ...all.documents.filter((two) => two.id !== id).map((two) => ({ value: two.id, words: two.title }))], { value: place.query.get("beside") ?? "" });
  choose.input.addEventListener("change", () => {
    history.replaceState(null, "", documentHref(id, kind, choose.value()));
    void show();
  });
  async function show(): Promise<void> {
    const beside = choose.value();
    try {
      const shown = beside ? sideBySide(one, await get<DocumentAnswer>(address(list, beside), {}, room.left)) : alone(one);
      if (choose.value() === beside) fill(body, shown);
    } catch (thrown) {
      if (!room.left.aborted) fill(body, failureBox(thrown));
    }
  }
  fill(room.work, el("p", {}, el("a", { href: link("methods") }, words.back)), choose.element, body);
  await show();
  fill(room.next, el("p", {}, words.next), el("p", {}, el("a.button", { href: `#/methods?order=&specification=${kind === "specification" ? encodeURIComponent(id) : ""}` }, words.rejudge)), usedBy(one.document));
};

function usedBy(document: DocumentLine): HTMLElement | null {
  if (document.orders.length === 0) return null;
  return el("div", {}, el("h2", {}, words.used), el("ul.plain", {}, ...document.orders.map((key) => el("li", {}, el("a", { href: link("order", key) }, key)))));
}

function alone(one: DocumentAnswer): HTMLElement {
  const remarks = one.understood["remarks"];
  return el(
    "div",
    {},
    about(one.document),
    el("h2", {}, words.values),
    table(
      words.values,
      [{ head: words.value }, { head: one.document.title }, { head: words.clause }],
      rowsOf(one.understood).map((row): Child[] => [row.name, row.value, el("span.muted", {}, row.clause)]),
      false,
    ),
    Array.isArray(remarks) && remarks.length > 0 && el("div", {}, el("h2", {}, words.remarks), bullets(remarks.map(String))),
    el("details", {}, el("summary", {}, words.toml), el("pre", { tabindex: 0 }, el("code", {}, one.toml))),
  );
}

function about(document: DocumentLine): HTMLElement {
  return el(
    "section",
    {},
    el("h2", {}, words.asks),
    bullets(document.summary),
    pairs([
      [words.edition, document.edition],
      [words.apparatus, document.apparatus_words],
      [words.source, document.source],
      [words.notice, document.notice],
    ]),
  );
}

function sideBySide(one: DocumentAnswer, other: DocumentAnswer): HTMLElement {
  const rows = compared(rowsOf(one.understood), rowsOf(other.understood));
  const differing = rows.filter((row) => row.sign !== "=").length;
  const said = { "≠": words.differs, "=": words.same, "+": words.only_here, "−": words.only_there };
  return el(
    "div",
    {},
    el("div.columns", {}, ...[one, other].map(({ document }) => el("div", {}, el("h2", {}, document.title), bullets(document.summary), el("p.small.muted", {}, `${document.id}, ${document.edition}`)))),
    el("h2", {}, words.values),
    el("p", {}, words.how_many(differing, rows.length)),
    table(
      words.values,
      [{ head: words.value }, { head: one.document.title }, { head: words.compared, unseen: true }, { head: other.document.title }],
      rows.map((row): Child[] => {
        const differs = row.sign !== "=";
        const cell = (value: string | null): Child => (value === null ? el("span.muted", {}, words.not_stated) : differs ? el("strong", {}, value) : value);
        return [row.name, cell(row.here), el("span.nowrap.sign", {}, `${row.sign} ${said[row.sign]}`), cell(row.there)];
      }),
      false,
    ),
  );
}
