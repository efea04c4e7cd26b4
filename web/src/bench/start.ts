// Before a session: which order, who, under which conditions; whether the bench is proven; begin.

import { address, get, post } from "../api";
import type { BenchAtHand } from "./state";
import { el, fill } from "../el";
import { failureBox } from "../failure_box";
import { live } from "../live";
import { link } from "../place";
import { instant, until } from "../when";
import { bench as words } from "../words";

interface OrderEntry {
  key: string;
  id: string;
  title: string;
  open: number | null;
  live: boolean;
}

export interface StartPanel {
  element: HTMLElement;
  /** The bench or its standing may have changed. */
  refresh(): void;
  /** Its orders may have changed: a session has ended. */
  reload(): void;
  close(): void;
}

const whoKept = "ebbtide.who";

export function startPanel(wanted: string | null): StartPanel {
  const element = el("section.start", { "aria-label": words.start });
  let orders: OrderEntry[] = [];
  let shape = "";
  let closed = false;

  const order = el("select", { id: "start-order", onchange: () => chosen() });
  const who = el("input", { id: "start-who", autocomplete: "off", maxlength: 20, size: 8, value: localStorage.getItem(whoKept) ?? "", oninput: () => localStorage.setItem(whoKept, who.value.trim()) });
  const conditions = el("select", { id: "start-conditions" });
  const conditionsField = el("div.field", { hidden: true }, el("label", { for: "start-conditions" }, words.conditions), conditions);
  const sequence = el(
    "select",
    { id: "start-sequence" },
    ...Object.entries(words.sequences).map(([value, label]) => el("option", { value }, label)),
  );
  const override = el("input", { id: "start-override", autocomplete: "off", size: 40 });
  const standing = el("div", {});
  const setup = el("div", {});
  const wrong = el("div", {});
  const openCheck = el("button", { type: "button", onclick: () => void begin("check", { closing: false }) }, words.opening_check_make);
  const closeCheck = el("button", { type: "button", onclick: () => void begin("check", { closing: true }) }, words.closing_check_make);
  const startButton = el("button.main", { type: "button", onclick: () => void begin("start", {}) }, words.start_order);
  const nothingOpen = el("p", {}, words.nothing_open);
  const overrideField = el(
    "details",
    {},
    el("summary", {}, words.override),
    el("div.field", {}, el("label", { for: "start-override" }, words.override_reason), override, el("small", {}, words.override_note)),
  );

  function benchOf(key: string): BenchAtHand | undefined {
    return live.bench?.benches.find((one) => one.orders.includes(key)) ?? live.bench?.benches[0];
  }

  async function begin(what: "start" | "check", more: object): Promise<void> {
    fill(wrong);
    const initials = who.value.trim();
    if (!initials) {
      fill(wrong, el("p.warning", { role: "alert" }, words.who_wanted));
      who.focus();
      return;
    }
    const buttons = [openCheck, closeCheck, startButton];
    for (const button of buttons) button.disabled = true;
    try {
      const body = what === "check" ? { order: order.value, who: initials, ...more } : { order: order.value, who: initials, conditions: conditions.value, sequence: sequence.value, override: override.value.trim() };
      await post(address("bench", what), body);
      override.value = "";
    } catch (thrown) {
      if (!closed) fill(wrong, failureBox(thrown));
    }
    for (const button of buttons) button.disabled = false;
    live.refresh();
  }

  /** The conditions of an order are in its documents. */
  async function chosen(): Promise<void> {
    const key = order.value;
    shape = "";
    refresh();
    if (!key) return;
    try {
      const answer = await get<{ order: { conditions: { id: string }[] } }>(address("orders", key));
      if (closed || key !== order.value) return;
      const ids = answer.order.conditions.map((one) => one.id);
      fill(conditions, ...ids.map((id) => el("option", { value: id }, id)));
      conditionsField.hidden = ids.length < 2;
    } catch {
      // The program will say what it misses.
    }
  }

  function refresh(): void {
    const { bench } = live;
    if (!bench) return;
    const at = benchOf(order.value);
    const now = JSON.stringify([orders, at, order.value]);
    if (now === shape) return;
    shape = now;
    if (orders.length === 0) {
      fill(element, el("p.empty", {}, words.no_orders, " ", el("a", { href: `${link("order")}?new` }, words.take_in), "."));
      return;
    }
    if (!at) {
      fill(element, el("p.empty", {}, words.no_bench));
      return;
    }
    const { check } = at;
    const proven = !check.asked || check.good;
    const full = orders.find((one) => one.key === order.value)?.open === 0;
    fill(
      standing,
      el("h2", {}, words.step_check),
      el("p", {}, el("strong", {}, !check.asked ? words.check_not_asked : check.good ? words.check_good : words.check_wanted), " ", check.good && check.good_until ? el("span", {}, words.good_until, " ", instant(check.good_until), ", ", until(check.good_until, bench.at)) : check.reason),
    );
    openCheck.className = proven ? "" : "main";
    closeCheck.className = proven && full ? "main" : "";
    startButton.className = proven ? "main" : "";
    overrideField.hidden = proven || full;
    fill(setup, at.setup.length > 0 && el("details", {}, el("summary", {}, words.setup), el("p.muted", {}, words.setup_note), el("ol.lines", {}, ...at.setup.map((line) => el("li", {}, line)))));
    fill(
      element,
      el("p", {}, words.at_bench(at.bench, at.simulated)),
      el("h2", {}, words.step_who),
      el("div.fields", {}, el("div.field", {}, el("label", { for: "start-order" }, words.order), order), el("div.field", {}, el("label", { for: "start-who" }, words.who), who)),
      standing,
      el("div.buttons", {}, openCheck, closeCheck),
      el("h2", {}, words.step_start),
      full ? nothingOpen : el("div.fields", {}, conditionsField, el("div.field", {}, el("label", { for: "start-sequence" }, words.sequence), sequence)),
      overrideField,
      !full && el("div.buttons", {}, startButton),
      wrong,
      setup,
    );
  }

  async function load(): Promise<void> {
    try {
      const [list, today] = await Promise.all([get<{ orders: OrderEntry[] }>(address("orders")), who.value ? null : get<{ who: string }>(address("today"))]);
      if (closed) return;
      orders = list.orders.filter((one) => one.live);
      if (today?.who) who.value = today.who;
      const chosenBefore = order.value || wanted;
      const open = orders.find((one) => one.key === chosenBefore) ?? orders.find((one) => (one.open ?? 0) > 0) ?? orders[0];
      fill(order, ...orders.map((one) => el("option", { value: one.key, selected: one === open }, words.order_option(one.id, one.title, one.open))));
      await chosen();
    } catch (thrown) {
      if (!closed) fill(element, failureBox(thrown));
    }
  }
  void load();
  return {
    element,
    refresh,
    reload: () => void load(),
    close: () => {
      closed = true;
    },
  };
}
