// The orders of the folder that is served: found by typing, newest work first.

import { get } from "../api";
import { el, fill, type Child } from "../el";
import { conformity } from "../figures/conformity";
import { onKey } from "../keys";
import { addressOf } from "../lots/chooser";
import { lots as lotWords } from "../lots/words";
import { table } from "../parts/table";
import { go, link, type Page } from "../place";
import type { OrderLine, OrdersAnswer } from "./answers";
import { matching } from "./matching";
import { list as words } from "./words";

export const listPage: Page = async (_place, room) => {
  room.title(words.title);
  const answer = await get<OrdersAnswer>("/api/orders", {}, room.left);
  const intake = el("a.button", { href: "#/order?new=1" }, words.intake, " ", el("kbd", {}, "N"));
  const together = answer.orders.some((one) => one.recorded) && el("p", {}, el("a", { href: addressOf("lots", []) }, lotWords.open));
  fill(room.next, el("p", {}, words.next), el("p", {}, intake), together);
  if (answer.orders.length === 0) {
    fill(room.work, el("p.empty", {}, words.empty(answer.folder)));
    return onKey("n", words.intake, () => go("#/order?new=1"));
  }
  const search = el("input", { id: "order-search", type: "search", autocomplete: "off", oninput: show });
  const shown = el("div", {});
  const count = el("p.small.muted", { role: "status" });
  fill(room.work, el("div.field", {}, el("label", { for: "order-search" }, words.search), search), count, shown);
  show();
  function show(): void {
    const found = matching(answer.orders, search.value);
    fill(count, words.found(found.length, answer.orders.length));
    fill(shown, found.length > 0 ? listOf(found) : el("p.empty", {}, words.none_found(search.value)));
  }
  return onKey("n", words.intake, () => go("#/order?new=1"));
};

function listOf(orders: OrderLine[]): HTMLElement {
  return table(
    words.title,
    [{ head: words.order }, { head: words.customer }, { head: words.material }, { head: words.due }, { head: words.runs, number: true }, { head: words.statement }],
    orders.map((one) => [
      el("span.two", {}, el("a", { href: link("order", one.key) }, one.id || one.key), el("small.muted", {}, one.title), sameIdOf(one)),
      ...(one.error
        ? ([el("span.wrong", {}, one.error.what), one.error.where, "", "", el("span", {}, one.error.remedy)] as Child[])
        : ([one.customer, one.materials.join("; "), el("span.nowrap", {}, dueOf(one)), runsOf(one), statementOf(one)] as Child[])),
    ]),
    false,
  );
}

/** Two folders with one id are a fault that somebody must mend: reports and the ledger go by the id. */
function sameIdOf(one: OrderLine): Child {
  if (one.same_id.length === 0) return null;
  return el("span.small.wrong", {}, words.same_id(one.key), " ", ...one.same_id.flatMap((key, at) => [at > 0 && ", ", el("a", { href: link("order", key) }, key)]), `. ${words.same_id_remedy}`);
}

function dueOf(one: OrderLine): Child {
  return one.issued ? words.issued(one.issued) : (one.due ?? words.no_due);
}

function runsOf(one: OrderLine): Child {
  if (one.recorded === null || one.open === null) return "";
  return one.open > 0 ? words.runs_of(one.recorded, one.recorded + one.open) : words.all_runs(one.recorded);
}

function statementOf(one: OrderLine): Child {
  if (one.statement) return conformity(one.statement);
  return el("span.muted", {}, one.recorded ? words.not_judged : words.no_runs);
}
