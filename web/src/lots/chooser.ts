// Which orders are meant, and what is asked of them: the question stands in the address, so that it can be gone back to.

import { get } from "../api";
import { el, fill } from "../el";
import type { OrderLine, OrdersAnswer } from "../order/answers";
import { matching } from "../order/matching";
import { onEdited, wasLeft, type Field } from "../parts/form";
import { go, type Place, type Room } from "../place";
import { lots as words } from "./words";

/** Keys with / between them, which no folder's name holds. */
export function keysOf(text: string): string[] {
  return [...new Set(text.split("/").filter(Boolean))];
}

/** "#/order?lots=KEY/KEY&share=0.8" without what is empty. */
export function addressOf(view: "lots" | "compare", keys: string[], more: Record<string, string> = {}): string {
  const query = new URLSearchParams({ [view]: keys.join("/") });
  for (const [name, value] of Object.entries(more)) if (value !== "") query.set(name, value);
  return `#/order?${query.toString()}`;
}

export interface Question {
  field: Field;
  /** What is wrong with what was typed; empty: nothing. */
  wrong(): string;
  /** As the address has it; empty: as usual. */
  asked(): string;
}

/** Fills the room with the question and the place of its answer, which is null as long as no order is chosen. */
export async function askAbout(place: Place, room: Room, view: "lots" | "compare", none_chosen: string, questions: Question[]): Promise<{ keys: string[]; orders: OrderLine[]; answer: HTMLElement | null }> {
  const keys = keysOf(place.query.get(view) ?? "");
  const { orders } = await get<OrdersAnswer>("/api/orders", {}, room.left);
  const recorded = orders.filter((one) => !one.error && one.recorded);
  if (recorded.length === 0) {
    fill(room.work, el("p.empty", {}, words.none_recorded));
    return { keys, orders, answer: null };
  }
  const chosen = new Set(recorded.filter((one) => keys.includes(one.key)).map((one) => one.key));
  const names = (): string[] => recorded.filter((one) => chosen.has(one.key)).map((one) => one.id);
  const summary = el("summary", {}, words.chosen(names()));
  const list = el("div", {});
  const search = el("input", { id: "lots-search", type: "search", autocomplete: "off", oninput: show });
  const wrong = el("p.small.wrong", { role: "alert" });
  function show(): void {
    const found = matching(recorded, search.value);
    fill(list, ...(found.length > 0 ? found.map(boxOf) : [el("p.empty", {}, words.none_found)]));
  }
  function boxOf(one: OrderLine): HTMLElement {
    const box = el("input", {
      type: "checkbox",
      checked: chosen.has(one.key),
      onchange: () => {
        if (box.checked) chosen.add(one.key);
        else chosen.delete(one.key);
        fill(summary, words.chosen(names()));
        fill(wrong);
      },
    });
    return el("label.choice", {}, box, el("span", {}, words.choice(one.id, one.title, one.materials, one.suppliers)));
  }
  show();
  const check = (all: boolean): Question | undefined => {
    for (const one of questions) one.field.say(all || wasLeft(one.field) ? one.wrong() : "");
    return questions.find((one) => one.wrong());
  };
  for (const one of questions) onEdited(one.field, () => check(false));
  const choice = el("details", { open: chosen.size === 0 }, summary, el("div.field", {}, el("label", { for: "lots-search" }, words.search), search), el("div.choice-list", { role: "group", "aria-label": words.choose }, list));
  const ask = (event: Event): void => {
    event.preventDefault();
    const first = check(true);
    if (chosen.size === 0) {
      fill(wrong, words.choose_first);
      choice.open = true;
      search.focus();
    } else if (first) {
      first.field.input.focus();
    } else {
      const more = Object.fromEntries(questions.map((one) => [one.field.name, one.asked()]));
      go(addressOf(view, recorded.filter((one) => chosen.has(one.key)).map((one) => one.key), more));
    }
  };
  const form = el("form", { novalidate: true, onsubmit: ask }, choice, el("div.form-grid", {}, ...questions.map((one) => one.field.element)), el("div.buttons", {}, el("button.main", { type: "submit" }, words.ask), wrong));
  const answer = keys.length > 0 ? el("div.answer", { "aria-live": "polite" }, el("p.muted", {}, words.asking)) : null;
  fill(room.work, el("p", {}, el("a", { href: "#/order" }, words.back)), form, answer ?? el("p.empty", {}, none_chosen));
  return { keys, orders, answer };
}
