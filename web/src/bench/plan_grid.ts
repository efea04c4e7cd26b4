// The plan as a grid of small traces: specimens down, face, polarity and replicate across. A cell fills in when its run is there.

import { address, get } from "../api";
import type { PlanPlace } from "./state";
import { story, type RunSeen } from "./story";
import { el, fill, svg } from "../el";
import { decayText, levelText } from "../figures/figure_words";
import { link } from "../place";
import { bench as words } from "../words";

interface Trace {
  run: string;
  time_s: number[];
  specimen_V: number[];
}

const wide = 96;
const high = 40;

export interface PlanGrid {
  element: HTMLElement;
  close(): void;
}

export function planGrid(key: () => string | null): PlanGrid {
  const element = el("section.plan", { "aria-label": words.plan });
  const traces = new Map<string, Trace>();
  /** runs of earlier sessions, by the label of their place */
  const earlier = new Map<string, string>();
  /** what was drawn while a run went on, until its trace is there */
  const drawnLive = new Map<string, SVGElement>();
  let askedFor: string | null = null;
  let cells = new Map<string, SVGElement>();
  let shape = "";
  let asking = false;
  let closed = false;

  async function fetchTraces(): Promise<void> {
    const order = key();
    if (!order || asking) return;
    asking = true;
    try {
      const answer = await get<{ traces: Trace[] }>(address("orders", order, "traces"), { points: 240 });
      for (const trace of answer.traces) traces.set(trace.run, fallOf(trace));
      if (askedFor !== order && story.places.some((place) => stateOf(place) !== "open" && !runOf(place))) {
        askedFor = order;
        const whole = await get<{ places: { label: string; run: string | null }[] }>(address("orders", order));
        for (const place of whole.places) if (place.run) earlier.set(place.label, place.run);
      }
      if (!closed) draw();
    } catch {
      // Cells without a trace still say how they stand.
    } finally {
      asking = false;
    }
  }

  function draw(): void {
    const { places } = story;
    const now = places.map((place) => [place.label, stateOf(place), runOf(place), story.runs.get(place.label)?.run, traces.has(runOf(place) ?? "")].join("|")).join("\n") + story.under?.label;
    if (now === shape) return;
    shape = now;
    cells = new Map();
    const rows = unique(places.map((place) => place.specimen));
    const columns = unique(places.map(columnOf));
    fill(
      element,
      el("h2", {}, words.plan),
      places.length === 0
        ? el("p.empty", {}, words.plan_empty)
        : el(
            "div.wide",
            { tabindex: 0, role: "region", "aria-label": words.plan_name },
            el(
              "table.plan-grid",
              {},
              el("thead", {}, el("tr", {}, el("th", { scope: "col" }, words.plan_specimen), ...columns.map((column) => el("th", { scope: "col" }, column)))),
              el(
                "tbody",
                {},
                ...rows.map((row) => el("tr", {}, el("th", { scope: "row" }, row), ...columns.map((column) => cell(places.find((one) => one.specimen === row && columnOf(one) === column))))),
              ),
            ),
          ),
    );
    live();
    const missing = places.some((place) => stateOf(place) !== "open" && (runOf(place) ? !traces.has(runOf(place) ?? "") : askedFor !== key()));
    if (missing) void fetchTraces();
  }

  function runOf(place: PlanPlace): string | null {
    return story.runs.get(place.label)?.run ?? place.run ?? earlier.get(place.label) ?? null;
  }

  function cell(place: PlanPlace | undefined): HTMLElement {
    if (!place) return el("td", {});
    const run = runOf(place);
    const state = stateOf(place);
    const under = story.under?.label === place.label;
    const seen = story.runs.get(place.label);
    const said = under ? words.place_now : words.place_states[state];
    const figure = seen ? lastLevel(seen) : null;
    const drawing = svg("svg.small-trace", { viewBox: `0 0 ${wide} ${high}`, "aria-hidden": "true", preserveAspectRatio: "none" });
    const trace = run ? traces.get(run) : undefined;
    if (under) cells.set(place.label, drawing);
    else if (trace) drawing.append(curve(trace.time_s, trace.specimen_V, place.polarity));
    else if (run) drawing.append(drawnLive.get(place.label) ?? "");
    const inside = [drawing, el("span.place-words", {}, el("span.sign", { "aria-hidden": "true" }, words.place_signs[under ? "now" : state]), el("span", {}, figure ?? said))];
    const name = words.place_name(place.label, figure ? `${said}, ${figure}` : said);
    const order = key();
    return el(
      `td.${under ? "now" : state}`,
      {},
      run && order && !under ? el("a", { href: link("order", order, "run", run), "aria-label": name }, ...inside) : el("div", { role: "img", "aria-label": name }, ...inside),
    );
  }

  /** The cell of the run that is under way grows with it. */
  function live(): void {
    const { under, frames } = story;
    const drawing = under && cells.get(under.label);
    if (!drawing || frames.empty) return;
    const data = frames.thinned(Math.max(under.from_s, frames.from_s), frames.to_s, wide / 2);
    const sign = story.signAt(frames.to_s);
    const grown = curve(data.time_s, data.specimen_V.map((value) => (value === null ? 0 : sign * value)), sign < 0 ? "-" : "+");
    drawnLive.set(under.label, grown);
    drawing.replaceChildren(grown);
  }

  draw();
  void fetchTraces();
  let slow = 0;
  const takeAway = story.onChange((frame) => {
    if (!frame) draw();
    else if (performance.now() - slow > 250) {
      slow = performance.now();
      live();
    }
  });
  return {
    element,
    close: () => {
      closed = true;
      takeAway();
    },
  };
}

/** The fall, and of the charge before it a third as long. */
function fallOf(trace: Trace): Trace {
  const from = -(trace.time_s.at(-1) ?? 0) / 3;
  const first = Math.max(0, trace.time_s.findIndex((time) => time >= from));
  return { run: trace.run, time_s: trace.time_s.slice(first), specimen_V: trace.specimen_V.slice(first) };
}

function stateOf(place: PlanPlace): "open" | "filled" | "void" {
  if (place.state) return place.state;
  const runs = Array.isArray(place.runs) ? place.runs.length : (place.runs ?? 0);
  return place.filled ? "filled" : runs > 0 ? "void" : "open";
}

function columnOf(place: PlanPlace): string {
  const sign = place.polarity === "-" ? "−" : place.polarity === "+" ? "+" : "±";
  return [place.face, place.conditions, `${sign}${place.replicate}`].filter(Boolean).join(" ");
}

/** Its decay time to the last level asked for. */
function lastLevel(run: RunSeen): string | null {
  const level = run.levels.at(-1);
  return level ? `${levelText(level.level, level.level_kind)}: ${decayText(level as never)}` : null;
}

function curve(time_s: number[], volts: number[], polarity: string | null): SVGElement {
  const first = time_s[0] ?? 0;
  const span = (time_s.at(-1) ?? 1) - first || 1;
  // An earthed specimen shows as a line, not as noise.
  const top = Math.max(200, ...volts);
  const points = time_s.map((time, at) => `${((wide * (time - first)) / span).toFixed(1)},${(high - 2 - ((high - 4) * Math.max(0, volts[at] ?? 0)) / top).toFixed(1)}`);
  return svg(`polyline.${polarity === "-" ? "negative" : "positive"}`, { points: points.join(" "), "vector-effect": "non-scaling-stroke" });
}

function unique(values: string[]): string[] {
  return [...new Set(values)];
}
