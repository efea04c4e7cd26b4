// One order: statement, plan, results, budget, flags, conditions, report. What is still to be done stands at the right.

import { address, get } from "../api";
import { el, fill, type Child } from "../el";
import { failureBox } from "../failure_box";
import type { Severity } from "../figures/answers";
import { flagWords, graver } from "../figures/flag_words";
import { chooseFiles } from "../import";
import { onKey } from "../keys";
import { live } from "../live";
import { addressOf } from "../lots/chooser";
import { lots as lotWords } from "../lots/words";
import { bullets } from "../parts/table";
import { go, link, type Page, type Room } from "../place";
import type { OrderAnswer, SmallTrace } from "./answers";
import { budgetsOf } from "./budget";
import { flagGroups, flagsOf, severityMark } from "./flags";
import { conditionsOf, particularsOf } from "./particulars";
import { planOf } from "./plan";
import { askToIssue, reportOf } from "./report";
import { resultsOf } from "./results";
import { statementOf } from "./statement";
import { view as words } from "./words";

export const viewPage: Page = async (place, room) => {
  const key = place.parts[0] as string;
  room.title(words.title(key));
  fill(room.work, el("p.waiting", {}, words.judging));
  const answer = await get<OrderAnswer>(address("orders", key), {}, room.left);
  if (room.left.aborted) return;
  show(answer, room);
  void fillTraces(answer, room);
  // A run that comes in while one looks: judged again when it is on the disk.
  let waiting: ReturnType<typeof setTimeout> | undefined;
  const stop = live.onEvent((event) => {
    if (event.event !== "run_recorded" && event.event !== "run_corrected") return;
    clearTimeout(waiting);
    waiting = setTimeout(look, settle_ms);
  });
  // Not while one types: the field would be gone.
  function look(): void {
    if (room.work.querySelector("form :focus")) waiting = setTimeout(look, settle_ms);
    else void again(key, room);
  }
  const keys = [onKey("m", words.import_files, () => answer.live && chooseFiles(key)), onKey("c", words.compare_key, () => go(compareLink(key))), onKey("i", words.issue_key, () => answer.judgement && !answer.order.issued && askToIssue(answer, () => void again(key, room, "report")))];
  return () => {
    clearTimeout(waiting);
    stop();
    for (const one of keys) one();
  };
};

const settle_ms = 1500;

/** Judged and drawn anew; where that took the focus away, it goes to the section `at`. */
async function again(key: string, room: Room, at = ""): Promise<void> {
  try {
    const answer = await get<OrderAnswer>(address("orders", key), {}, room.left);
    if (room.left.aborted) return;
    const scrolled = scrollY;
    const open = new Set([...room.work.querySelectorAll("details[open] > summary")].map((one) => one.textContent ?? ""));
    show(answer, room);
    for (const one of room.work.querySelectorAll<HTMLDetailsElement>("details")) if (open.has(one.querySelector("summary")?.textContent ?? "")) one.open = true;
    scrollTo({ top: scrolled });
    if (at && document.activeElement === document.body) room.work.querySelector<HTMLElement>(`#${at}`)?.focus({ preventScroll: true });
    await fillTraces(answer, room);
  } catch (thrown) {
    if (!room.left.aborted) room.work.prepend(failureBox(thrown));
  }
}

function section(id: string, heading: string, ...content: Child[]): HTMLElement {
  return el("section", { id, "aria-labelledby": `${id}-head`, tabindex: -1 }, el("h2", { id: `${id}-head` }, heading), ...content);
}

const planSlot = "plan-slot";

function show(answer: OrderAnswer, room: Room): void {
  room.title(`${answer.order.id} · ${answer.order.title}`);
  fill(
    room.work,
    el("p.muted", {}, words.under_title(answer.order.customer.name, answer.order.revision, answer.key)),
    statementOf(answer),
    section("plan", words.plan, el("div", { id: planSlot }, planOf(answer, new Map()))),
    section("results", words.results, resultsOf(answer, room)),
    section("budget", words.budget, budgetsOf(answer)),
    section("flags", words.flags, flagsOf(answer)),
    section("conditions", words.conditions, conditionsOf(answer, () => void again(answer.key, room, "conditions"))),
    section("particulars", words.particulars, particularsOf(answer)),
    section("report", words.report, reportOf(answer, () => void again(answer.key, room, "report"))),
  );
  fill(room.next, nextOf(answer, room), sectionsNav(room));
}

async function fillTraces(answer: OrderAnswer, room: Room): Promise<void> {
  if (!answer.judgement) return;
  try {
    const { traces } = await get<{ traces: SmallTrace[] }>(address("orders", answer.key, "traces"), { points: 200 }, room.left);
    const slot = room.work.querySelector(`#${planSlot}`);
    if (slot && !room.left.aborted) fill(slot, planOf(answer, new Map(traces.map((trace) => [trace.run, trace]))));
  } catch {
    // The plan stands without its small pictures; every cell still says its figure.
  }
}

const compareLink = (key: string): string => `#/methods?order=${encodeURIComponent(key)}`;

function nextOf(answer: OrderAnswer, room: Room): HTMLElement {
  const open = answer.places.filter((place) => place.state === "open").length;
  // A run that another one took the place of needs nothing more.
  const last = new Set(answer.places.map((place) => place.run));
  const groups = flagGroups((answer.judgement?.runs ?? []).filter((run) => last.has(run.run))).filter((group) => graver(group.severity, "warn") <= 0).slice(0, flagsShown);
  const steps: Child[] = [];
  if (open > 0) steps.push(el("span", {}, words.record(open), " ", el("a", { href: link("bench") }, words.to_bench), words.or_drop));
  if (answer.live) steps.push(el("button.quiet", { type: "button", onclick: () => chooseFiles(answer.key) }, words.import_files, " ", el("kbd", {}, "M")));
  for (const group of groups) steps.push(el("span", {}, severityMark(group.severity as Severity), " ", flagWords(group.code).name, ": ", flagWords(group.code).mend));
  if (answer.order.issued) steps.push(words.issued(answer.order.issued));
  else if (answer.judgement && open === 0) steps.push(el("button.quiet", { type: "button", onclick: () => askToIssue(answer, () => void again(answer.key, room, "report")) }, words.issue, " ", el("kbd", {}, "I")));
  if (answer.judgement) steps.push(el("a", { href: addressOf("lots", [answer.key]) }, lotWords.of_order), el("a", { href: compareLink(answer.key) }, words.rejudge));
  return bullets(steps);
}

const flagsShown = 3;

/** Jumps within the page; the address stays that of the order. */
function sectionsNav(room: Room): HTMLElement {
  const names: [string, string][] = [
    ["plan", words.plan],
    ["results", words.results],
    ["budget", words.budget],
    ["flags", words.flags],
    ["conditions", words.conditions],
    ["particulars", words.particulars],
    ["report", words.report],
  ];
  const jump = (id: string): void => {
    const target = room.work.querySelector<HTMLElement>(`#${id}`);
    target?.scrollIntoView({ block: "start" });
    target?.focus({ preventScroll: true });
  };
  return el("nav", { "aria-label": words.on_page }, el("h2", {}, words.on_page), el("ul.plain", {}, ...names.map(([id, name]) => el("li", {}, el("button.quiet", { type: "button", onclick: () => jump(id) }, name)))));
}
