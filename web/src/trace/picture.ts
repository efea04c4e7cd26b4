// The trace as a chart: which lines there are, where levels and crossings stand, and where the cursors are drawn.

import { Chart, type Level, type Line, type Mark } from "../chart";
import { levelText } from "../figures/figure_words";
import { uncertainText } from "../figures/number_text";
import { colour } from "../theme";
import type { RunFigures } from "../figures/answers";
import type { CrossedLevel, FitAnswer, TraceAnswer } from "./answers";
import type { Cursors } from "./cursors";
import { joined, mirrored, type Curve } from "./join";
import type { Stretch } from "./window";
import { trace as words } from "./words";

/** One run of the picture; the first is the one the page is about. */
export interface Shown {
  run: string;
  label: string;
  polarity: "+" | "-";
  figures: RunFigures | null;
  trace: TraceAnswer;
}

export interface Parts {
  log: boolean;
  law: boolean;
  electrode: boolean;
  mirror: boolean;
}

const dashes: (number[] | undefined)[] = [undefined, [7, 3], [2, 3], [10, 3, 2, 3], [4, 2], [1, 4]];

interface Drawn {
  line: Line;
  curve: Curve;
}

/** Lines and their samples, in the order of drawing: what matters most comes last. */
export function linesOf(shown: Shown[], fit: FitAnswer | null, parts: Parts, charge: TraceAnswer | null): Drawn[] {
  const drawn: Drawn[] = [];
  const main = shown[0];
  if (!main) return drawn;
  if (parts.electrode && !parts.log && main.trace.electrode)
    drawn.push({ line: { name: words.electrode, colour: "muted", width: 1 }, curve: { x: main.trace.electrode.time_s, y: main.trace.electrode.volts_V } });
  if (parts.mirror && charge && main.figures?.charging_s && main.figures.initial_voltage_V !== null)
    drawn.push({
      line: { name: words.mirrored, colour: "muted", dash: [5, 3] },
      curve: mirrored({ x: charge.specimen.time_s, y: charge.specimen.volts_V }, main.figures.charging_s, main.figures.initial_voltage_V),
    });
  shown.forEach((one, at) => {
    const dash = dashes[at % dashes.length];
    drawn.push({
      line: { name: shown.length > 1 ? one.label : words.specimen, colour: one.polarity === "+" ? "positive" : "negative", ...(dash ? { dash } : {}) },
      curve: { x: one.trace.specimen.time_s, y: one.trace.specimen.volts_V },
    });
  });
  if (parts.law && fit?.law && fit.curve.time_s.length > 0)
    drawn.push({ line: { name: words.law((fit.law.chosen ?? "").replaceAll("_", " ") || "closest"), colour: "ink", dash: [2, 2], width: 1 }, curve: { x: fit.curve.time_s, y: fit.curve.law_V } });
  return drawn;
}

export const columnsOf = (drawn: Drawn[]): (number | null | undefined)[][] => joined(drawn.map((one) => one.curve));

/** Levels of a run: as its figures have them, with their uncertainty, else as its samples alone gave them. */
function crossingsOf(one: Shown): Pick<CrossedLevel, "level" | "level_V" | "status" | "decay_s" | "u_decay_s">[] {
  return one.figures?.levels.map((figure) => ({ ...figure, level: levelText(figure.level, figure.level_kind) })) ?? one.trace.levels;
}

/** Ticks of the levels of the first run, and a mark with its time where it was seen to cross. */
export function levelsOf(shown: Shown[]): { levels: Level[]; marks: Mark[] } {
  const main = shown[0];
  const crossings = main ? crossingsOf(main).filter((one) => one.level_V > 0) : [];
  const levels = crossings.map((one) => ({ at: one.level_V, words: one.level }));
  const marks = crossings.flatMap((one) => (one.status === "measured" && one.decay_s !== null ? [{ x: one.decay_s, y: one.level_V, words: `${uncertainText(one.decay_s, one.u_decay_s)} s` }] : []));
  return { levels, marks };
}

/** Below this nothing is drawn on a logarithmic axis: a third of the lowest level, or of the noise where that is larger. */
export function floorOf(shown: Shown[]): number {
  const main = shown[0];
  if (!main) return 1;
  const lowest = Math.min(...crossingsOf(main).map((one) => one.level_V).filter((volts) => volts > 0), main.figures?.initial_voltage_V ?? Infinity);
  return Math.max(Number.isFinite(lowest) ? lowest / 3 : 1, (main.figures?.noise_V ?? 0) / 3, 1e-3);
}

/** Room for the longest name: 7 px a letter, within reason. */
export function rightOf(drawn: Drawn[]): number {
  return Math.min(Math.max(...drawn.map((one) => 16 + 6.6 * one.line.name.length), 72), 220);
}

export interface PictureAsks {
  zoom(from: number, to: number): void;
  clicked(time_s: number): void;
  cursors(): Cursors;
}

export function pictureOf(name: string, drawn: Drawn[], parts: Parts, seen: Stretch, floor_V: number, asks: PictureAsks): Chart {
  return new Chart({
    name: words.chart(name),
    x: words.x,
    y: words.y,
    lines: drawn.map((one) => one.line),
    log: parts.log,
    floor: floor_V,
    height: 420,
    right: rightOf(drawn),
    window: [seen.from_s, seen.to_s],
    zoom: asks.zoom,
    clicked: asks.clicked,
    over: (u, context) => {
      const ratio = devicePixelRatio;
      const { left, top, width, height } = u.bbox;
      const { a_s, b_s, active } = asks.cursors();
      for (const [letter, at_s] of [["A", a_s], ["B", b_s]] as const) {
        if (at_s === null) continue;
        const x = u.valToPos(at_s, "x", true);
        if (x < left || x > left + width) continue;
        context.strokeStyle = context.fillStyle = colour("ink");
        context.setLineDash(letter.toLowerCase() === active ? [] : [3 * ratio, 3 * ratio]);
        context.beginPath();
        context.moveTo(x, top);
        context.lineTo(x, top + height);
        context.stroke();
        context.setLineDash([]);
        context.fillText(letter, x + 4 * ratio, top + 7 * ratio);
      }
    },
  });
}

/** The strip under the fit; null without a law. Its window follows the trace's. */
export function residualsOf(fit: FitAnswer | null, seen: Stretch, right: number): Chart | null {
  const residuals = fit?.law?.residuals ?? [];
  if (residuals.length === 0) return null;
  const strip = new Chart({
    name: words.residuals,
    x: words.x,
    y: words.residuals_y,
    lines: [
      { name: words.twice_u, colour: "muted", width: 1 },
      { name: "", colour: "muted", width: 1, unnamed: true },
      { name: "", colour: "ink", points: true, unnamed: true },
    ],
    height: 120,
    right,
    window: [seen.from_s, seen.to_s],
  });
  const x = residuals.map((one) => one.time_s);
  strip.show([x, residuals.map((one) => 2 * one.u_V), residuals.map((one) => -2 * one.u_V), residuals.map((one) => one.residual_V)]);
  return strip;
}
