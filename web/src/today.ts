// Today: what is due, what is conditioned, which checks expire, what to do next.

import { address, get } from "./api";
import { el, fill, type Child } from "./el";
import { failureBox } from "./failure_box";
import { live } from "./live";
import { link, type Page, type Room } from "./place";
import { day, instant, until } from "./when";
import { today as words } from "./words";

interface Due {
  key: string;
  id: string;
  title: string;
  customer: string;
  due: string | null;
  days: number | null;
  recorded: number;
  open: number;
}
interface Conditioning {
  key: string;
  id: string;
  conditions: string;
  specimens: string[];
  state: keyof typeof words.conditioning_states;
  ready_at: string | null;
  words: string;
}
interface Check {
  bench: string;
  orders: string[];
  asked: boolean;
  good: boolean;
  good_until: string | null;
  reason: string;
  words: string;
}
interface Calibration {
  bench: string;
  equipment: string;
  certificate: string;
  due: string;
  days: number;
}
interface Step {
  action: "intake" | "mend" | "condition" | "check" | "test" | "issue" | "calibrate";
  key: string | null;
  words: string;
}
interface Today {
  at: string;
  who: string;
  ledger: string | null;
  due: Due[];
  conditioning: Conditioning[];
  checks: Check[];
  calibrations: Calibration[];
  next: Step[];
}

const again_ms = 60_000;

export const todayPage: Page = async (_place, room) => {
  room.title(words.title);
  await show(room);
  const again = setInterval(() => void refresh(), again_ms);
  let seen = live.bench?.session?.phase;
  const stop = live.onChange(() => {
    const phase = live.bench?.session?.phase;
    if (phase !== seen) void refresh();
    seen = phase;
  });
  async function refresh(): Promise<void> {
    try {
      await show(room);
    } catch (thrown) {
      // A lost link has its own notice, and what stands here is better than nothing.
      if (!room.left.aborted && live.link === "open") fill(room.work, failureBox(thrown));
    }
  }
  return () => {
    clearInterval(again);
    stop();
  };
};

async function show(room: Room): Promise<void> {
  const now = await get<Today>(address("today"), {}, room.left);
  fill(room.work, due(now), conditioning(now), checks(now), calibrations(now));
  fill(room.next, steps(now));
}

function section(heading: string, rows: number, empty: Child, table: () => HTMLElement): HTMLElement {
  return el("section", {}, el("h2", {}, heading), rows > 0 ? table() : el("p.empty", {}, empty));
}

function tableOf(heading: string, heads: string[], rows: Child[][]): HTMLElement {
  return el(
    "div.wide",
    { tabindex: 0, role: "region", "aria-label": heading },
    el(
      "table",
      {},
      el("thead", {}, el("tr", {}, ...heads.map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, ...rows.map((row) => el("tr", {}, ...row.map((cell, at) => (at === 0 ? el("th", { scope: "row" }, cell) : el("td", {}, cell)))))),
    ),
  );
}

const orderLink = (key: string, id: string): HTMLElement => el("a.nowrap", { href: link("order", key) }, id);

function due(now: Today): HTMLElement {
  const empty = el("span", {}, words.no_orders, " ", el("a", { href: `${link("order")}?new` }, words.take_in), ".");
  return section(words.due, now.due.length, empty, () =>
    tableOf(
      words.due,
      words.due_heads,
      now.due.map((one) => [
        orderLink(one.key, one.id),
        one.title,
        one.customer,
        one.due ? el("span", {}, day(one.due), " ", el(one.days !== null && one.days <= 0 ? "strong" : "span.muted", {}, one.days === null ? null : words.days(one.days))) : el("span.muted", {}, words.no_date),
        words.progress(one.recorded, one.recorded + one.open),
      ]),
    ),
  );
}

function conditioning(now: Today): HTMLElement {
  return section(words.conditioning, now.conditioning.length, words.no_conditioning, () =>
    tableOf(
      words.conditioning,
      words.conditioning_heads,
      now.conditioning.map((one) => [
        el("span", {}, `${one.specimens.join(", ")} (${one.conditions})`),
        orderLink(one.key, one.id),
        el("strong", {}, words.conditioning_states[one.state] ?? one.state),
        one.state === "conditioning" && one.ready_at ? el("span", {}, words.ready_at, " ", instant(one.ready_at), ", ", until(one.ready_at, now.at)) : said(one.words),
      ]),
    ),
  );
}

/** The first column says of what already. */
const said = (sentence: string): string => sentence.slice(sentence.indexOf(": ") + 2);

function checks(now: Today): HTMLElement {
  return section(words.checks, now.checks.length, words.no_checks, () =>
    tableOf(
      words.checks,
      words.checks_heads,
      now.checks.map((one) => [
        el("a", { href: link("bench") }, one.bench),
        el("strong", {}, !one.asked ? words.check_not_asked : one.good ? words.check_good : words.check_wanted),
        one.good && one.good_until ? el("span", {}, words.good_until, " ", instant(one.good_until), ", ", until(one.good_until, now.at)) : said(one.words),
      ]),
    ),
  );
}

function calibrations(now: Today): HTMLElement | null {
  if (now.calibrations.length === 0) return null;
  return section(words.calibrations, 1, null, () =>
    tableOf(
      words.calibrations,
      words.calibrations_heads,
      now.calibrations.map((one) => [one.equipment, one.bench, one.certificate, el("span", {}, day(one.due), " ", el(one.days <= 0 ? "strong" : "span.muted", {}, words.days(one.days)))]),
    ),
  );
}

function where(step: Step): string | null {
  switch (step.action) {
    case "intake":
      return `${link("order")}?new`;
    case "check":
    case "test":
      return link("bench") + (step.key ? `?order=${encodeURIComponent(step.key)}` : "");
    case "calibrate":
      return null;
    default:
      return step.key ? link("order", step.key) : null;
  }
}

function steps(now: Today): HTMLElement {
  if (now.next.length === 0) return el("p.muted", {}, words.nothing_next);
  return el(
    "ol.steps",
    {},
    ...now.next.map((step) => {
      const href = where(step);
      return el("li", {}, href ? el("a", { href }, step.words) : step.words);
    }),
  );
}
