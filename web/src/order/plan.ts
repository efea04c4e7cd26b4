// The plan as a grid of small traces: specimens down, face, polarity and replicate across. Each cell says its state in
// a word and a sign, its decay time, and leads to its trace.

import { el, svg, type Child } from "../el";
import type { JudgedRun, LevelFigure } from "../figures/answers";
import { decayText, polaritySign, polarityWord } from "../figures/figure_words";
import { severityWords } from "../figures/flag_words";
import { unbroken } from "../figures/number_text";
import { link } from "../place";
import type { OrderAnswer, PlanPlace, SmallTrace } from "./answers";
import { plan as words } from "./words";

export interface PlanColumn {
  face: string;
  polarity: PlanPlace["polarity"];
  replicate: number;
  conditions: string;
}

const nameOf = (column: PlanColumn): string => JSON.stringify([column.face, column.polarity, column.replicate, column.conditions]);

/** Specimens in the plan's order, columns in the order in which they first come; conditions stand in a column only where a specimen has several. */
export function gridOf(places: PlanPlace[]): { specimens: string[]; columns: PlanColumn[]; at: Map<string, PlanPlace>; severalConditions: boolean } {
  const bySpecimen = new Map<string, Set<string>>();
  for (const place of places) {
    const seen = bySpecimen.get(place.specimen) ?? new Set();
    bySpecimen.set(place.specimen, seen.add(place.conditions));
  }
  const severalConditions = [...bySpecimen.values()].some((seen) => seen.size > 1);
  const columns = new Map<string, PlanColumn>();
  const at = new Map<string, PlanPlace>();
  for (const place of places) {
    const column = { face: place.face, polarity: place.polarity, replicate: place.replicate, conditions: severalConditions ? place.conditions : "" };
    columns.set(nameOf(column), column);
    at.set(place.specimen + nameOf(column), place);
  }
  const sorted = [...columns.values()].sort((a, b) => order(a.face, b.face) || order(b.polarity === "+" ? 1 : 0, a.polarity === "+" ? 1 : 0) || order(a.conditions, b.conditions) || a.replicate - b.replicate);
  return { specimens: [...bySpecimen.keys()], columns: sorted, at, severalConditions };
}

// Faces keep "front" before "back".
const order = (a: string | number, b: string | number): number => (a === b ? 0 : a === "front" ? -1 : b === "front" ? 1 : a < b ? -1 : 1);

export function planOf(answer: OrderAnswer, traces: Map<string, SmallTrace>): HTMLElement {
  if (answer.places.length === 0) return el("p.empty", {}, words.empty);
  const grid = gridOf(answer.places);
  const runs = new Map((answer.judgement?.runs ?? []).filter((run) => run.run).map((run) => [run.run as string, run]));
  const block = (specimens: string[]): HTMLElement =>
    el(
      "table.plan",
      {},
      el("caption.unseen", {}, words.caption),
      el("thead", {}, el("tr", {}, el("th", { scope: "col" }, words.specimen), ...grid.columns.map((column) => el("th", { scope: "col" }, headOf(column))))),
      el(
        "tbody",
        {},
        ...specimens.map((specimen) =>
          el(
            "tr",
            {},
            el("th", { scope: "row" }, specimenHead(answer, specimen)),
            ...grid.columns.map((column) => {
              const place = grid.at.get(specimen + nameOf(column));
              return el("td", {}, place && cellOf(answer.key, place, runs, traces));
            }),
          ),
        ),
      ),
    );
  return el("div.wide.plans", { tabindex: 0, role: "group", "aria-label": words.caption }, ...blocksOf(grid.specimens, grid.columns.length).map(block));
}

/** A plan of few columns stands in blocks side by side, so that a long one is seen at a glance. */
export function blocksOf(specimens: string[], columns: number): string[][] {
  const beside = Math.max(1, Math.floor(7 / (columns + 1)));
  const size = Math.max(4, Math.ceil(specimens.length / beside));
  const blocks: string[][] = [];
  for (let at = 0; at < specimens.length; at += size) blocks.push(specimens.slice(at, at + size));
  return blocks;
}

function headOf(column: PlanColumn): string {
  return [column.face, `${polaritySign(column.polarity)} ${column.replicate}`, column.conditions].filter(Boolean).join(" ");
}

function specimenHead(answer: OrderAnswer, id: string): Child {
  const specimen = answer.order.specimens.find((one) => one.id === id);
  const more = specimen ? [specimen.direction, specimen.state].filter(Boolean).join(", ") : "";
  return el("span.two", {}, id || words.without_specimen, el("small.muted", {}, more));
}

function cellOf(key: string, place: PlanPlace, runs: Map<string, JudgedRun>, traces: Map<string, SmallTrace>): HTMLElement {
  const name = `${place.label || place.specimen}, ${polarityWord(place.polarity)}`;
  if (!place.run) return el("span.cell.open", {}, svg("svg.small-trace", { viewBox: "0 0 128 40", "aria-hidden": "true" }), el("span.small.muted", {}, words.open), el("span.unseen", {}, name));
  const run = runs.get(place.run);
  const trace = traces.get(place.run);
  const figure = run && shownLevel(run);
  const repeats = place.runs.length > 1 ? words.repeats(place.runs.length) : "";
  return el(
    `a.cell.${place.state}`,
    { href: link("order", key, "run", place.run) },
    trace ? sparkline(trace, place.polarity === "+" ? "positive" : "negative", figure?.decay_s ? 2 * figure.decay_s : undefined) : svg("svg.small-trace", { viewBox: "0 0 128 40", "aria-hidden": "true" }),
    el("span.unseen", {}, `${name}: `),
    el("span.small", {}, place.state === "void" ? `${severityWords.void_run.sign} ${words.void_run} ` : "", figure ? unbroken(decayText(figure)) : words.no_figure),
    repeats && el("span.small.muted", {}, repeats),
  );
}

/** Of several levels the lowest: that is what limits are mostly about. */
export function shownLevel(run: JudgedRun): LevelFigure | undefined {
  return run.figures?.levels.reduce<LevelFigure | undefined>((lowest, one) => (!lowest || one.level_V < lowest.level_V ? one : lowest), undefined);
}

/** Voltage against time after the release, nothing else; to `until_s`, else to the end. */
export function sparkline(trace: SmallTrace, look: string, until_s?: number): SVGElement {
  const width = 128;
  const height = 40;
  const last = Math.min(until_s ?? Infinity, trace.time_s[trace.time_s.length - 1] ?? 1);
  const first = Math.max(trace.time_s[0] ?? 0, -0.12 * last);
  const top = Math.max(...trace.specimen_V.map(Math.abs), 1);
  const points: string[] = [];
  trace.time_s.forEach((time, at) => {
    if (time < first || time > last) return;
    const x = ((time - first) / (last - first || 1)) * width;
    const y = height - 1 - Math.max((trace.specimen_V[at] ?? 0) / top, -0.05) * (height - 3);
    points.push(`${x.toFixed(1)},${y.toFixed(1)}`);
  });
  return svg(
    "svg.small-trace",
    { viewBox: `0 0 ${width} ${height}`, "aria-hidden": "true" },
    svg("line", { x1: 0, y1: height - 0.5, x2: width, y2: height - 0.5, stroke: "var(--rule)" }),
    svg("polyline", { points: points.join(" "), fill: "none", stroke: `var(--${look})`, "stroke-width": 1.2 }),
  );
}
