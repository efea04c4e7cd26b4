// One hand for every curve: thin line, faint ticks, no grid, names beside the lines. L turns linear into logarithmic.
// A wrapper over uPlot, which draws; nothing else of the page knows uPlot.

import uPlot from "uplot";
import { el } from "./el";
import { freePlace, Scale } from "./figures/scale";
import { colour, onTheme } from "./theme";

export interface Line {
  name: string;
  /** custom property: "positive", "negative", "muted", "ink" */
  colour: string;
  width?: number;
  dash?: number[];
  /** marks instead of a line, for residuals and dots */
  points?: boolean;
  /** no name beside it, as for the second edge of a band */
  unnamed?: boolean;
}

/** A short tick at the right margin. */
export interface Level {
  at: number;
  words: string;
}

/** A small open mark with words beside it. */
export interface Mark {
  x: number;
  y: number;
  words: string;
}

export interface ChartOptions {
  /** What it shows, for a screen reader. */
  name: string;
  x: string;
  y: string;
  lines: Line[];
  log?: boolean;
  height: number;
  /** Of the horizontal axis where it is not the data's own. */
  window?: [number, number];
  /** Of the vertical axis while it is linear; a null end is taken from the data. */
  range?: [number | null, number | null];
  /** The vertical axis spans at least so much, zero within it. */
  least?: number;
  /** Of a logarithmic axis: how far below its highest value it reaches at most. */
  decades?: number;
  /** A person asked for another window (drag, wheel, + - and arrows); without it the chart stands still. */
  zoom?: (from: number, to: number) => void;
  /** Room at the right for names and levels, px. */
  right?: number;
  /** Room above, px; 12 when absent. */
  top?: number;
  /** Lowest value of a logarithmic axis; the smallest of the data when absent. */
  floor?: number;
  /** Where a click fell that was no drag. */
  clicked?: (x: number) => void;
  /** Where the pointer is, in the axis' own numbers; null when it left. */
  pointer?: (x: number | null) => void;
  /** Drawn last, over everything. */
  over?: (u: uPlot, context: CanvasRenderingContext2D) => void;
}

export type Column = ArrayLike<number | null | undefined>;

/** Drawings grow with the type of the page: 1 where it is 16 px. */
const grown = (): number => parseFloat(getComputedStyle(document.documentElement).fontSize) / 16;
const font = (px: number): string => `${px}px system-ui, sans-serif`;

export class Chart {
  readonly element: HTMLElement;
  private plot: uPlot | null = null;
  private columns: Column[] = [];
  private levels: Level[] = [];
  private marks: Mark[] = [];
  private logarithmic: boolean;
  private window: [number, number] | undefined;
  private readonly takeAway: (() => void)[] = [];

  constructor(private readonly options: ChartOptions) {
    this.logarithmic = options.log ?? false;
    this.window = options.window;
    this.element = el("div.chart", { role: "img", "aria-label": options.name });
    if (options.zoom) {
      this.element.tabIndex = 0;
      this.element.setAttribute("role", "application");
      this.element.setAttribute("aria-roledescription", "chart");
      this.element.addEventListener("keydown", (event) => this.keyed(event));
      this.element.addEventListener("wheel", (event) => this.wheeled(event), { passive: false });
    }
    // The element's height must not follow the drawing's, or each would stretch the other.
    const watch = new ResizeObserver(() => this.fit());
    watch.observe(this.element);
    this.takeAway.push(() => watch.disconnect(), onTheme(() => this.plot?.redraw(false)));
  }

  get log(): boolean {
    return this.logarithmic;
  }

  /** Only numbers above zero can be drawn then; the others are left out, never folded over. */
  setLog(on: boolean): void {
    if (on === this.logarithmic) return;
    this.logarithmic = on;
    this.make();
  }

  /** The horizontal column, then one a line; null is a gap, undefined a place where this line has no sample. */
  show(columns: Column[], window?: [number, number]): void {
    this.columns = columns;
    if (window) this.window = window;
    if (!this.plot) {
      this.make();
      return;
    }
    this.plot.batch(() => {
      this.plot?.setData(this.drawn(), false);
      this.scale();
    });
  }

  setWindow(from: number, to: number): void {
    this.window = [from, to];
    this.scale();
  }

  setLevels(levels: Level[], marks: Mark[] = []): void {
    this.levels = levels;
    this.marks = marks;
    this.plot?.redraw(false);
  }

  setName(name: string): void {
    this.element.setAttribute("aria-label", name);
  }

  /** Whether its name stands beside it, from the next drawing on. */
  setNamed(line: number, named: boolean): void {
    const one = this.options.lines[line];
    if (one) one.unnamed = !named;
  }

  /** Pixels (of CSS) from the first to the last value. */
  get plotWidth(): number {
    return this.plot ? this.plot.bbox.width / devicePixelRatio : this.element.clientWidth;
  }

  redraw(): void {
    this.plot?.redraw(false);
  }

  close(): void {
    for (const one of this.takeAway) one();
    this.plot?.destroy();
    this.plot = null;
  }

  private drawn(): uPlot.AlignedData {
    if (!this.logarithmic) return this.columns as unknown as uPlot.AlignedData;
    return this.columns.map((column, at) =>
      at === 0 ? column : Array.from(column, (value) => (value === undefined ? undefined : value !== null && value > 0 ? value : null)),
    ) as unknown as uPlot.AlignedData;
  }

  private scale(): void {
    const x = this.columns[0];
    if (!this.plot || !x || x.length === 0) return;
    const [min, max] = this.window ?? [x[0] as number, x[x.length - 1] as number];
    this.plot.setScale("x", { min, max: max > min ? max : min + 1 });
  }

  private fit(): void {
    const { clientWidth: width, clientHeight: height } = this.element;
    if (width < 40 || height < 40) return;
    if (!this.plot) this.make();
    else if (this.plot.width !== width || this.plot.height !== height) this.plot.setSize({ width, height });
  }

  private make(): void {
    this.plot?.destroy();
    this.plot = null;
    const { clientWidth: width, clientHeight: height } = this.element;
    if (width < 40 || height < 40 || this.columns.length === 0) return;
    const { options } = this;
    const g = grown();
    const axis = (label: string, size: number, space: number): uPlot.Axis => ({
      label,
      labelSize: 20 * g,
      labelFont: font(12 * g),
      font: font(12 * g),
      size: size * g,
      space: space * g,
      gap: 4,
      stroke: () => colour("muted"),
      grid: { show: false },
      ticks: { show: true, stroke: () => colour("rule"), width: 1, size: 4 },
    });
    const y: uPlot.Scale = this.logarithmic
      ? {
          distr: 3,
          log: 10,
          range: (_u, min, max) => (max > 0 ? [options.floor ?? Math.max(min * 0.8, max * 10 ** -(options.decades ?? 12)), Math.max(max * 1.3, 2 * (options.floor ?? 0))] : [1, 10]),
        }
      : {
          range: (_u, min, max) => {
            const [low, high] = options.range ?? [null, null];
            [min, max] = [min ?? 0, max ?? 0];
            if (options.least !== undefined && max - min < options.least) {
              // Whichever side has less room is widened to zero and beyond.
              max = Math.max(max, 0.5 * options.least);
              min = Math.min(min, max - options.least);
            }
            const margin = 0.05 * (max - min || Math.abs(max) || 1);
            return [low ?? min - margin, high ?? max + margin];
          },
        };
    this.plot = new uPlot(
      {
        width,
        height,
        padding: [g * (options.top ?? 12), g * (options.right ?? (options.lines.every((line) => line.unnamed) ? 24 : 96)), 0, 0],
        legend: { show: false },
        cursor: {
          show: Boolean(options.pointer || options.zoom),
          y: false,
          points: { show: false },
          drag: { x: Boolean(options.zoom), y: false, setScale: false },
        },
        scales: { x: { time: false }, y },
        axes: [{ ...axis(options.x, 32, 64), values: (_u, ticks) => ticks.map(tickWords) }, { ...axis(options.y, 56, 36), ...(this.logarithmic ? { splits: (_u: uPlot, _at: number, low: number, high: number) => logarithmicSplits(low, high), filter: (_u: uPlot, splits: number[]) => splits } : {}), values: (_u, ticks) => ticks.map(tickWords) }],
        series: [
          {},
          ...options.lines.map(
            (line): uPlot.Series => ({
              stroke: () => colour(line.colour),
              width: line.points ? 0 : (line.width ?? 1.25),
              ...(line.dash ? { dash: line.dash } : {}),
              points: { show: line.points ?? false, size: 4, stroke: () => colour(line.colour) },
              spanGaps: false,
            }),
          ),
        ],
        hooks: {
          ready: [(u) => options.clicked && listenForClicks(u, options.clicked)],
          draw: [(u) => this.overlay(u)],
          setSelect: [(u) => this.selected(u)],
          setCursor: [(u) => options.pointer?.(u.cursor.left !== undefined && u.cursor.left >= 0 ? u.posToVal(u.cursor.left, "x") : null)],
        },
      },
      this.drawn(),
      this.element,
    );
    this.scale();
  }

  private selected(u: uPlot): void {
    if (u.select.width < 4) return;
    const from = u.posToVal(u.select.left, "x");
    const to = u.posToVal(u.select.left + u.select.width, "x");
    u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    this.options.zoom?.(from, to);
  }

  private shift(about: number, factor: number, by: number): void {
    const { min, max } = this.plot?.scales["x"] ?? {};
    if (min === undefined || max === undefined) return;
    const span = (max - min) * factor;
    const from = about - (about - min) * factor + by * span;
    this.options.zoom?.(from, from + span);
  }

  private keyed(event: KeyboardEvent): void {
    const { min, max } = this.plot?.scales["x"] ?? {};
    if (min === undefined || max === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    const middle = (min + max) / 2;
    if (event.key === "ArrowLeft") this.shift(middle, 1, -0.2);
    else if (event.key === "ArrowRight") this.shift(middle, 1, 0.2);
    else if (event.key === "+" || event.key === "=") this.shift(middle, 0.5, 0);
    else if (event.key === "-") this.shift(middle, 2, 0);
    else if (event.key === "0" || event.key === "Home") this.options.zoom?.(-Infinity, Infinity);
    else return;
    event.preventDefault();
  }

  private wheeled(event: WheelEvent): void {
    if (!this.plot || (!event.ctrlKey && !event.shiftKey && event.deltaX === 0 && document.activeElement !== this.element)) return;
    event.preventDefault();
    const at = this.plot.posToVal(event.clientX - this.plot.over.getBoundingClientRect().left, "x");
    if (event.deltaX !== 0 || event.shiftKey) this.shift(at, 1, Math.sign(event.deltaX || event.deltaY) * 0.1);
    else this.shift(at, event.deltaY > 0 ? 1.25 : 0.8, 0);
  }

  private overlay(u: uPlot): void {
    const context = u.ctx;
    const ratio = devicePixelRatio * grown();
    const { left, top, width, height } = u.bbox;
    context.save();
    context.font = font(12 * ratio);
    context.textBaseline = "middle";
    context.textAlign = "left";
    context.setLineDash([]);
    context.lineWidth = ratio;

    // Levels: short ticks at the right margin. Their words keep apart.
    const taken: number[] = [];
    for (const level of [...this.levels].sort((one, other) => other.at - one.at)) {
      if (this.logarithmic && level.at <= 0) continue;
      const y = u.valToPos(level.at, "y", true);
      if (y < top || y > top + height) continue;
      context.strokeStyle = context.fillStyle = colour("muted");
      context.beginPath();
      context.moveTo(left + width - 8 * ratio, y);
      context.lineTo(left + width, y);
      context.stroke();
      const place = freePlace(y, taken, 13 * ratio, top, top + height);
      taken.push(place);
      context.fillText(level.words, left + width + 4 * ratio, place);
    }
    for (const mark of this.marks) {
      if (this.logarithmic && mark.y <= 0) continue;
      const x = u.valToPos(mark.x, "x", true);
      const y = u.valToPos(mark.y, "y", true);
      if (x < left || x > left + width || y < top || y > top + height) continue;
      context.strokeStyle = context.fillStyle = colour("ink");
      context.beginPath();
      context.arc(x, y, 3.5 * ratio, 0, 2 * Math.PI);
      context.stroke();
      context.fillText(mark.words, x + 8 * ratio, y - 8 * ratio);
    }
    this.nameLines(u, context, ratio, taken);
    this.options.over?.(u, context);
    context.restore();
  }

  /** Each line's name stands where the line ends; names that would touch are pushed apart. */
  private nameLines(u: uPlot, context: CanvasRenderingContext2D, ratio: number, taken: number[]): void {
    const { left, top, width, height } = u.bbox;
    const names: { words: string; y: number; colour: string }[] = [];
    this.options.lines.forEach((line, at) => {
      if (line.unnamed) return;
      const value = lastWithin(this.columns[0], this.columns[at + 1], u.scales["x"]?.max ?? Infinity);
      if (value === null || (this.logarithmic && value <= 0)) return;
      const y = Math.min(Math.max(u.valToPos(value, "y", true), top), top + height);
      names.push({ words: line.name, y, colour: line.colour });
    });
    names.sort((one, other) => one.y - other.y);
    const apart = 15 * ratio;
    for (const name of names) {
      const y = freePlace(name.y, taken, apart, top, top + height);
      taken.push(y);
      context.fillStyle = colour(name.colour);
      context.fillText(name.words, left + width + 6 * ratio, y);
    }
  }
}

/** 1, 2 and 5 of every decade; of many decades the 1 alone. */
function logarithmicSplits(low: number, high: number): number[] {
  return low > 0 && high > low ? new Scale("logarithmic", low, high, 0, 1).ticks(12).map((tick) => tick.value) : [];
}

function listenForClicks(u: uPlot, clicked: (x: number) => void): void {
  let pressed = 0;
  u.over.addEventListener("mousedown", (event) => (pressed = event.clientX));
  u.over.addEventListener("click", (event) => {
    if (Math.abs(event.clientX - pressed) < 4) clicked(u.posToVal(event.clientX - u.over.getBoundingClientRect().left, "x"));
  });
}

function lastWithin(x: Column | undefined, y: Column | undefined, limit: number): number | null {
  if (!x || !y) return null;
  for (let at = Math.min(x.length, y.length) - 1; at >= 0; --at) {
    const value = y[at];
    if (value !== null && value !== undefined && (x[at] as number) <= limit) return value;
  }
  return null;
}

/** 5000 as 5 000, 0.001 as it is: never more digits than the tick has. */
function tickWords(value: number | null): string {
  if (value === null) return "";
  const text = String(Number(value.toPrecision(6)));
  const [whole = "", part] = text.split(".");
  if (text.includes("e") || whole.replace("-", "").length < 5) return text.replace("-", "−");
  return (whole.replace(/\B(?=(\d{3})+$)/g, "\u202f") + (part ? `.${part}` : "")).replace("-", "−");
}
