// The report as it would be, and issuing it: a step that is not taken back, so it is asked about first.

import { address, post, withQuery } from "../api";
import { el, fill } from "../el";
import { failureBox } from "../failure_box";
import { conformity } from "../figures/conformity";
import { closeButton, openDialog } from "../parts/dialog";
import { choiceField, onEdited, textField, wasLeft, type Field } from "../parts/form";
import type { Issued, OrderAnswer } from "./answers";
import { report as words } from "./words";

const papers = [
  { value: "a4", words: "A4" },
  { value: "letter", words: "Letter" },
];

export function reportOf(answer: OrderAnswer, issuedNow: () => void): HTMLElement {
  if (!answer.judgement) return el("p.empty", {}, words.empty);
  const preview = address("orders", answer.key, "report");
  const frame = el("div", {});
  const show = el("button", { type: "button", "aria-expanded": "false", onclick: toggle }, words.show);
  function toggle(): void {
    const open = show.getAttribute("aria-expanded") === "true";
    show.setAttribute("aria-expanded", String(!open));
    show.textContent = open ? words.show : words.hide;
    fill(frame, open ? null : el("iframe.preview", { src: withQuery(preview, { form: "html" }), title: words.preview_title }));
  }
  return el(
    "div",
    {},
    answer.reports.length > 0 && el("div", {}, el("h3", {}, words.issued_before), el("ul.lines", {}, ...answer.reports.map((one) => el("li", {}, reportLink(answer.key, one.name))))),
    el(
      "div.buttons",
      {},
      show,
      ...papers.map((paper) => el("a.button", { href: withQuery(preview, { form: "pdf", paper: paper.value }), target: "_blank", rel: "noopener" }, words.as_pdf(paper.words))),
      el("button.main", { type: "button", onclick: () => askToIssue(answer, issuedNow), disabled: answer.order.issued !== null }, words.issue),
    ),
    el("p.small.muted", {}, answer.order.issued !== null ? words.is_issued(answer.order.issued) : words.draft),
    frame,
  );
}

function reportLink(key: string, name: string): HTMLElement {
  return el("a", { href: address("orders", key, "reports", name), target: "_blank", rel: "noopener" }, name);
}

export function askToIssue(answer: OrderAnswer, issuedNow: () => void): void {
  const who = textField("who", words.who, { hint: words.who_hint });
  const role = textField("role", words.role, { optional: true, hint: words.role_hint });
  const from = textField("tested_from", words.tested_from, { type: "date", value: answer.order.tested_from });
  const to = textField("tested_to", words.tested_to, { type: "date", value: answer.order.tested_to });
  const paper = choiceField("paper", words.paper, papers, { value: "a4" });
  const fields = [who, role, from, to, paper];
  const says = el("div", { role: "alert" });
  const open = answer.places.filter((place) => place.state === "open").length;
  const go = el("button.main", { type: "submit" }, words.issue);
  const check = (all: boolean): boolean => {
    const wrong: [Field, string][] = [
      [who, who.value() ? "" : words.who_missing],
      [to, to.value() >= from.value() ? "" : words.days_swapped],
    ];
    for (const [field, what] of wrong) field.say(all || wasLeft(field) ? what : "");
    return wrong.every(([, what]) => !what);
  };
  for (const field of fields) onEdited(field, () => check(false));
  const form = el(
    "form",
    { novalidate: true, onsubmit: (event: Event) => void send(event) },
    ...fields.map((field) => field.element),
    says,
    el("div.buttons", {}, go, closeButton(words.not_now)),
  );
  const dialog = openDialog(words.ask(answer.order.id, answer.order.revision), [
    el("p", {}, words.statement_is, " ", conformity(answer.judgement?.statement ?? "void"), "."),
    open > 0 && el("p.warning", {}, words.open_places(open)),
    el("p", {}, words.what_follows),
    form,
  ]);
  who.input.focus();

  async function send(event: Event): Promise<void> {
    event.preventDefault();
    if (!check(true)) {
      who.input.focus();
      return;
    }
    go.disabled = true;
    fill(says, el("p.muted", {}, words.writing));
    try {
      const issued = await post<Issued>(address("orders", answer.key, "report"), {
        who: who.value(),
        ...(role.value() ? { role: role.value() } : {}),
        tested_from: from.value(),
        tested_to: to.value(),
        paper: paper.value(),
      });
      fill(
        dialog.element,
        el("h2", { tabindex: -1 }, words.done),
        el("p", {}, conformity(issued.statement)),
        el("p", {}, words.written(issued.file, issued.bytes), " ", reportLink(answer.key, issued.name)),
        el("p", {}, "SHA-256 ", el("code.hash", {}, issued.sha256)),
        el("p", {}, issued.in_ledger ? words.in_ledger : words.no_ledger),
        el("div.buttons", {}, closeButton()),
      );
      dialog.element.querySelector<HTMLElement>("h2")?.focus();
      dialog.element.addEventListener("close", issuedNow, { once: true });
    } catch (thrown) {
      go.disabled = false;
      fill(says, failureBox(thrown));
    }
  }
}
