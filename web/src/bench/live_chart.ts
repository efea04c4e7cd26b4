// The trace as it grows: electrode and specimen voltage, the phases above, decay levels at the right margin.

import { story } from "./story";
import { Chart } from "../chart";
import { el, fill } from "../el";
import { onKey } from "../keys";
import { colour } from "../theme";
import { bench as words } from "../words";

/** Seconds shown; 0: all there is. */
const widths = [30, 120, 600, 0] as const;
/** So that the noise of an earthed bench does not fill the picture. */
const least_V = 1000;
/** A bench tells ten frames a second: more pictures than this show nothing more, and a tablet lasts longer. */
const pause_ms = 50;
/** An electrode above this is charged. */
const charged_V = 500;

export interface LiveChart {
  element: HTMLElement;
  /** as fractions of what was held, for the ticks at the margin */
  setLevels(levels: { fraction: number; words: string }[]): void;
  close(): void;
}

export function liveChart(): LiveChart {
  let width_s: number = 120;
  let levels: { fraction: number; words: string }[] = [];
  let asked = 0;
  let drawn = 0;
  let waits = 0;
  let name = "";

  const chart = new Chart({
    name: words.chart_name,
    x: words.chart_x,
    y: words.chart_y,
    height: 320,
    least: least_V,
    decades: 3,
    top: 24,
    lines: [
      { name: words.electrode, colour: "muted" },
      { name: words.specimen, colour: "positive" },
      { name: words.specimen, colour: "negative", unnamed: true },
    ],
    over: (u, context) => phases(u, context),
  });
  chart.element.classList.add("live");

  function draw(): void {
    asked = 0;
    drawn = performance.now();
    const { frames } = story;
    const began = performance.now();
    // A young session fills an empty picture from the left; then the picture moves on.
    const to = Math.max(frames.to_s, frames.from_s + (width_s || 10));
    const from = width_s === 0 ? frames.from_s : to - width_s;
    const columns = Math.max(50, Math.round(chart.plotWidth));
    const turned = chart.log ? (time: number) => story.signAt(time) : undefined;
    const data = frames.thinned(from, to, columns, turned);
    const negative = data.time_s.map((time) => story.signAt(time) < 0);
    const side = (wanted: boolean) => data.specimen_V.map((value, at) => (negative[at] === wanted ? value : null));
    chart.setNamed(1, story.signAt(to) > 0);
    chart.setNamed(2, story.signAt(to) < 0);
    chart.show([data.time_s, data.electrode_V, side(false), side(true)], [from, to]);
    ticks();
    figures();
    spent(began, (2 * data.time_s.length) / columns);
    const now = words.chart_now(frames.latest.specimen_V, frames.latest.electrode_V);
    if (now !== name) chart.setName((name = now));
  }
  function soon(): void {
    if (asked || waits) return;
    const rest = drawn + pause_ms - performance.now();
    if (rest <= 0) asked = requestAnimationFrame(draw);
    else
      waits = window.setTimeout(() => {
        waits = 0;
        asked ||= requestAnimationFrame(draw);
      }, rest);
  }

  /** What each level is in volts of this run: of what the specimen was seen to hold just before its release. */
  function ticks(): void {
    const released = story.phases.findLast((one) => one.phase === "released");
    const held = released && story.phases.findLast((one) => one.phase === "holding" && one.at_s <= released.at_s);
    const mean = released && held ? story.frames.specimenMean(Math.max(held.at_s, released.at_s - 2), released.at_s) : null;
    if (mean === null) return chart.setLevels([]);
    const turned = chart.log ? story.signAt(released?.at_s ?? 0) : 1;
    chart.setLevels(levels.map((one) => ({ at: turned * one.fraction * mean, words: one.words })));
  }

  const widthButtons = widths.map((seconds) =>
    el("button", { type: "button", "aria-pressed": String(seconds === width_s), onclick: () => setWidth(seconds) }, words.widths[seconds]),
  );
  function setWidth(seconds: number): void {
    width_s = seconds;
    widthButtons.forEach((button, at) => button.setAttribute("aria-pressed", String(widths[at] === seconds)));
    soon();
  }
  const logButton = el("button", { type: "button", "aria-pressed": "false", onclick: () => turn() }, words.log, " ", el("kbd", {}, "L"));
  function turn(): void {
    chart.setLog(!chart.log);
    logButton.setAttribute("aria-pressed", String(chart.log));
    soon();
  }

  const specimen = el("span.figure", {});
  const electrode = el("span.figure.muted", {});
  const accepted = el("span.figure.muted", {});
  const acceptedWords = el("p", {}, el("span.muted", {}, words.accepted), accepted);
  function figures(): void {
    const { specimen_V, electrode_V } = story.frames.latest;
    fill(specimen, words.volts(specimen_V));
    fill(electrode, words.volts(electrode_V));
    // Of an earthed electrode it would be a quotient of two noises.
    const charged = story.phase !== "aborted" && specimen_V !== null && electrode_V !== null && Math.abs(electrode_V) > charged_V;
    acceptedWords.hidden = !charged;
    if (charged) fill(accepted, words.percent(specimen_V / electrode_V));
  }

  const takeAway = [
    story.onChange(soon),
    onKey("l", words.log_key, turn),
  ];
  soon();

  return {
    element: el(
      "section.live-trace",
      { "aria-label": words.chart_name },
      el("div.figures", {}, el("p", {}, el("span.muted", {}, words.specimen), specimen), el("p", {}, el("span.muted", {}, words.electrode), electrode), acceptedWords),
      chart.element,
      el("div.buttons", { role: "group", "aria-label": words.chart_settings }, ...widthButtons, logButton),
    ),
    setLevels: (now) => {
      levels = now;
      soon();
    },
    close: () => {
      for (const one of takeAway) one();
      cancelAnimationFrame(asked);
      clearTimeout(waits);
      chart.close();
    },
  };
}

/** A short tick and the name at each begin of a phase, as far as there is room. */
function phases(u: { valToPos(value: number, scale: string, canvas: boolean): number; bbox: { left: number; top: number; width: number } }, context: CanvasRenderingContext2D): void {
  const ratio = context.lineWidth;
  const { left, top, width } = u.bbox;
  context.strokeStyle = colour("rule");
  context.fillStyle = colour("muted");
  let free = left;
  const seen = story.phases;
  for (let at = firstVisible(seen.length); at < seen.length; ++at) {
    const one = seen[at];
    if (!one) continue;
    const x = u.valToPos(one.at_s, "x", true);
    const end = at + 1 < seen.length ? u.valToPos(seen[at + 1]?.at_s ?? 0, "x", true) : left + width;
    if (end < left || x > left + width) continue;
    context.beginPath();
    context.moveTo(Math.max(x, left), top - 14 * ratio);
    context.lineTo(Math.max(x, left), top - 2 * ratio);
    context.stroke();
    const name = words.phases[one.phase as keyof typeof words.phases] ?? one.phase;
    const from = Math.max(x, left) + 3 * ratio;
    const wide = context.measureText(name).width;
    if (from < free || from + wide > Math.min(end, left + width)) continue;
    context.fillText(name, from, top - 8 * ratio);
    free = from + wide + 6 * ratio;
  }
}
/** Long sessions have thousands of phases; only the last ones can be seen by name. */
const firstVisible = (count: number): number => Math.max(0, count - 400);

// What a frame costs, on the browser's own list of measures; bounded, for a session lasts hours.
const measure = "live frame";
let measured = 0;
function spent(began: number, pointsAColumn: number): void {
  if (++measured % 1000 === 0) performance.clearMeasures(measure);
  performance.measure(measure, { start: began, end: performance.now(), detail: pointsAColumn });
}
