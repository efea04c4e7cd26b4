// The page of a trace: picture and strip, what is shown of it, cursors, figures; notes and pedigree at the right. The picture needs
// the run's samples alone and comes first: its figures may wait until the order is judged.

import { address, get } from "../api";
import type { Chart } from "../chart";
import { el, fill } from "../el";
import { failureBox } from "../failure_box";
import type { JudgedRun } from "../figures/answers";
import { inWords, runName } from "../figures/figure_words";
import { onKey } from "../keys";
import type { OrderAnswer } from "../order/answers";
import { link, type Page } from "../place";
import type { FitAnswer, RunAnswer, TraceAnswer } from "./answers";
import { compareLink, compareOf } from "./compare";
import { CursorPanel } from "./cursor_panel";
import { moved, noCursors, other, placed } from "./cursors";
import { exportsOf } from "./exports";
import { figuresOf, nextOf } from "./figures";
import { notesOf } from "./notes";
import { openPedigree } from "./pedigree";
import { columnsOf, floorOf, levelsOf, linesOf, pictureOf, residualsOf, rightOf, type Parts, type Shown } from "./picture";
import { Samples } from "./samples";
import { fallStretch, within, type Stretch } from "./window";
import { trace as words } from "./words";

/** Narrower than this nothing is seen: ten samples of a fast recorder. */
const shortest_s = 1e-5;
const samplesSeen = 40;

export const tracePage: Page = async (place, room) => {
  const key = place.parts[0] as string;
  const runId = place.parts[2] ?? "";
  room.title(key);
  let others = place.query.getAll("with").filter((run) => run !== runId);
  // Only where the run begins and ends, and where it crosses its levels.
  const { levels, ...ends } = await get<TraceAnswer>(address("orders", key, "runs", runId, "trace"), { columns: 1 }, room.left);

  let answer: RunAnswer | null = null;
  let whole: Stretch = { from_s: ends.begins_s, to_s: ends.ends_s };
  // A fall that is over within a few samples is seen among more of them.
  const least_s = (samplesSeen * (whole.to_s - whole.from_s)) / Math.max(1, ends.samples);
  let seen: Stretch = fallStretch(levels.flatMap((one) => one.decay_s ?? one.at_most_s ?? []), whole, least_s);
  if (levels.some((one) => one.status === "not_reached")) seen = within({ from_s: -0.1 * whole.to_s, to_s: whole.to_s }, whole);
  const fall = seen;
  const parts: Parts = { log: false, law: false, electrode: true, mirror: false };
  let cursors = noCursors;
  let shown: Shown[] = [];
  let fit: FitAnswer | null = null;
  let charge: TraceAnswer | null = null;
  let chart: Chart | null = null;
  let strip: Chart | null = null;
  let runs = new Map<string, JudgedRun>();

  const picture = el("div.picture", {});
  const residuals = el("div.strip", {});
  const about = el("p.small.muted", { role: "status" }, words.loading);
  const trouble = el("div", {});
  const compare = el("div", {});
  const name = el("span", {});
  const results = el("div", {}, el("p.waiting", {}, words.judging));
  const next = el("div", {});
  const notes = el("div", {});
  const buttons = controls();
  const panel = new CursorPanel((next) => {
    cursors = next;
    chart?.redraw();
    showCursors();
  });

  const samples = new Samples(key, room.left, came, (thrown) => fill(trouble, failureBox(thrown)), (on) => picture.classList.toggle("loading", on));

  fill(
    room.work,
    el("p.muted", {}, el("a", { href: link("order", key) }, words.back), " · ", name),
    buttons,
    picture,
    about,
    residuals,
    trouble,
    compare,
    results,
    exportsOf(key, runId),
  );
  fill(room.next, next, panel.element, notes);
  draw();

  const keys = [
    onKey("l", words.keys.log, () => toggle("log")),
    onKey("t", words.keys.law, () => toggle("law")),
    onKey("f", words.keys.fall, () => look(fall)),
    onKey("w", words.keys.whole, () => look(whole)),
    onKey("a", words.keys.a, () => choose("a")),
    onKey("b", words.keys.b, () => choose("b")),
    onKey(",", words.keys.left, () => move(-1)),
    onKey(".", words.keys.right, () => move(1)),
    onKey("<", words.keys.far_left, () => move(-10)),
    onKey(">", words.keys.far_right, () => move(10)),
    onKey("x", words.keys.clear, () => setCursors(noCursors)),
  ];
  return () => {
    for (const one of keys) one();
    chart?.close();
    strip?.close();
  };

  // --- the picture ---
  function ask(now = false): void {
    samples.want([runId, ...others], seen, columns(), now);
  }
  function columns(): number {
    return Math.max(200, Math.round(((picture.clientWidth || 900) - 152) * devicePixelRatio));
  }
  function columnWidth(): number {
    return (seen.to_s - seen.from_s) / Math.max(1, columns() / devicePixelRatio);
  }
  function came(answers: TraceAnswer[]): void {
    fill(trouble);
    const first = answers[0];
    if (!first) return;
    const firstPicture = shown.length === 0;
    whole = { from_s: Math.min(...answers.map((one) => one.begins_s)), to_s: Math.max(...answers.map((one) => one.ends_s)) };
    shown = answers.map((trace, at) => {
      const run = runs.get(at === 0 ? runId : (others[at - 1] ?? ""));
      return { run: trace.run, label: run?.label ?? trace.run.slice(0, 8), polarity: trace.sign < 0 ? "-" : "+", figures: run?.figures ?? null, trace };
    });
    sayShown(first);
    draw();
    showCursors();
    if (firstPicture) void addFigures();
  }
  function sayShown(first: TraceAnswer): void {
    fill(about, words.shown(first.in_window, first.samples, first.thinned), parts.log && ` ${words.log_hint}`);
  }
  /** A new chart where the lines are others, else the same one with other samples. */
  function draw(): void {
    if (shown.length === 0) {
      ask(true);
      return;
    }
    const drawn = linesOf(shown, fit, parts, charge);
    const title = answer ? runName(answer.run) : key;
    const lines = JSON.stringify([title, drawn.map((one) => one.line), parts.log]);
    if (!chart || picture.dataset["lines"] !== lines) {
      chart?.close();
      picture.dataset["lines"] = lines;
      chart = pictureOf(title, drawn, parts, seen, floorOf(shown), { zoom, clicked: (time_s) => setCursors(placed(cursors, time_s)), cursors: () => cursors });
      fill(picture, chart.element);
      strip?.close();
      strip = null;
    }
    const marks = levelsOf(shown);
    chart.setLevels(marks.levels, marks.marks);
    chart.show(columnsOf(drawn), [seen.from_s, seen.to_s]);
    if (!parts.law) {
      strip?.close();
      strip = null;
      fill(residuals);
    } else if (!strip) {
      strip = residualsOf(fit, seen, rightOf(drawn));
      const drawnLaw = fit?.laws.find((one) => one.chosen);
      if (strip) fill(residuals, drawnLaw && el("p.small", {}, `${inWords(drawnLaw.name)}: ${drawnLaw.formula}; ${drawnLaw.told}`), strip.element, el("p.small.muted", {}, words.residuals_caption));
    }
  }
  function zoom(from: number, to: number): void {
    look(Number.isFinite(from) && Number.isFinite(to) ? { from_s: from, to_s: to } : fall);
  }
  function look(next: Stretch): void {
    seen = within(next, whole, shortest_s);
    chart?.setWindow(seen.from_s, seen.to_s);
    strip?.setWindow(seen.from_s, seen.to_s);
    ask();
  }

  // --- what is shown ---
  function controls(): HTMLElement {
    const view = (label: string, stretch: () => Stretch, kbd = ""): HTMLElement => el("button", { type: "button", onclick: () => look(stretch()) }, label, kbd && " ", kbd && el("kbd", {}, kbd));
    return el(
      "div.buttons",
      { role: "group", "aria-label": words.view },
      view(words.fall, () => fall, "F"),
      view(words.charge, () => ({ from_s: whole.from_s, to_s: Math.max(0.05 * whole.to_s, 0.02) })),
      view(words.whole, () => whole, "W"),
      el("span.gap", {}),
      part("log", words.log, "L"),
      part("law", words.show_law, "T"),
      part("electrode", words.show_electrode),
    );
  }
  function part(name: keyof Parts, label: string, kbd = ""): HTMLElement {
    return el("button", { type: "button", "data-part": name, "aria-pressed": String(parts[name]), onclick: () => toggle(name) }, label, kbd && " ", kbd && el("kbd", {}, kbd));
  }
  function toggle(part: keyof Parts): void {
    parts[part] = !parts[part];
    room.work.querySelector(`[data-part=${part}]`)?.setAttribute("aria-pressed", String(parts[part]));
    if (shown[0]) sayShown(shown[0].trace);
    if (part === "mirror" && parts.mirror && !charge) void addCharge();
    else draw();
  }
  /** What the judged order says of the run. The rest rests on it and comes quickly then. */
  async function addFigures(): Promise<void> {
    try {
      answer = await get<RunAnswer>(address("orders", key, "runs", runId), {}, room.left);
    } catch (thrown) {
      if (!room.left.aborted) fill(results, failureBox(thrown));
      return;
    }
    if (room.left.aborted) return;
    const said = answer;
    runs.set(runId, said.run);
    room.title(words.title(said.order, said.run.label));
    fill(name, runName(said.run));
    if (said.run.figures?.charging_s) buttons.append(part("mirror", words.show_mirror));
    fill(results, figuresOf(said, (level) => void openPedigree(key, runId, level, room)));
    fill(next, nextOf(said));
    fill(notes, notesOf(key, runId, said.notes, room), neighbours(said));
    came(shown.map((one) => one.trace));
    void addLaw();
    void addOrder();
  }
  async function addLaw(): Promise<void> {
    try {
      fit = await get<FitAnswer>(address("orders", key, "runs", runId, "fit"), {}, room.left);
      if (!room.left.aborted && parts.law) draw();
    } catch {
      // The trace stands without its law; the figures say why there is none.
    }
  }
  async function addCharge(): Promise<void> {
    try {
      charge = await get<TraceAnswer>(address("orders", key, "runs", runId, "trace"), { from_s: whole.from_s, to_s: 0, columns: 1000 }, room.left);
      if (!room.left.aborted) draw();
    } catch (thrown) {
      if (!room.left.aborted) fill(trouble, failureBox(thrown));
    }
  }
  /** The order's other runs: for comparing, and for the names of those that are compared. */
  async function addOrder(): Promise<void> {
    try {
      const order = await get<OrderAnswer>(address("orders", key), {}, room.left);
      if (room.left.aborted) return;
      runs = new Map((order.judgement?.runs ?? []).flatMap((run) => (run.run ? [[run.run, run] as const] : [])));
      if (answer && !runs.has(runId)) runs.set(runId, answer.run);
      fill(compare, compareOf(runId, others, runs, (chosen) => {
        others = chosen;
        history.replaceState(null, "", compareLink(key, runId, others));
        ask(true);
      }));
      if (shown.length > 1) came(shown.map((one) => one.trace));
    } catch {
      // Without the list there is nothing to compare with; the trace itself stands.
    }
  }

  // --- cursors ---
  function setCursors(next: typeof cursors): void {
    cursors = next;
    chart?.redraw();
    showCursors();
  }
  function showCursors(): void {
    panel.show(cursors, shown[0]?.trace ?? null, columnWidth(), answer?.run.figures?.noise_V ?? 1);
  }
  function choose(letter: "a" | "b"): void {
    const unset = (letter === "a" ? cursors.a_s : cursors.b_s) === null;
    const next = cursors.active === letter ? cursors : other(cursors);
    setCursors(unset ? moved(next, 0, seen, columns()) : next);
  }
  function move(by: number): void {
    setCursors(moved(cursors, by, seen, columns() / devicePixelRatio));
  }

  function neighbours({ before, after }: RunAnswer): HTMLElement | null {
    if (!before && !after) return null;
    const to = (run: string | null, label: string): HTMLElement | null => (run ? el("a.button", { href: link("order", key, "run", run) }, label) : null);
    return el("div", {}, el("h2", {}, words.neighbours), el("div.buttons", {}, to(before, words.before), to(after, words.after)));
  }
};

