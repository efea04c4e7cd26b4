// How a material went: a mark a period with the standard error of its mean, a thin bar from shortest to longest, limit dashed.

import { svg } from "../el";
import { Scale } from "../figures/scale";
import { significantText, statedText } from "../figures/number_text";
import type { TrendPeriod } from "./answers";
import { trend as words } from "./words";

const width = 720;
const height = 260;
const left = 56;
const right = 90;
const top = 16;
const bottom = 36;

/** Standard error of ln(mean); null under two times. */
export function errorFactor(period: TrendPeriod): number | null {
  if (period.spread_factor === null || period.times < 2) return null;
  return Math.exp(Math.log(period.spread_factor) / Math.sqrt(period.times));
}

/** A mean with the digits that its standard error leaves. */
export function meanText(period: TrendPeriod): string {
  if (period.mean_s === null) return "–";
  const factor = errorFactor(period);
  const u = factor === null ? 0 : period.mean_s * (factor - 1);
  if (!(u > 0)) return significantText(period.mean_s, 2);
  const digits = Math.min(Math.max(2 + Math.floor(Math.log10(period.mean_s)) - Math.floor(Math.log10(u)), 1), 4);
  return significantText(period.mean_s, digits);
}

export function trendDrawing(periods: TrendPeriod[], level: string, name: string, limit_s: number | null): SVGElement | null {
  const drawn = periods.filter((one) => one.mean_s !== null && one.shortest_s !== null && one.longest_s !== null);
  if (drawn.length === 0) return null;
  const values = [...drawn.flatMap((one) => [one.shortest_s as number, one.longest_s as number]), ...(limit_s ? [limit_s] : [])];
  const y = new Scale("logarithmic", Math.min(...values) / 1.3, Math.max(...values) * 1.3, height - bottom, top);
  const place = (at: number): number => left + 24 + (drawn.length > 1 ? (at / (drawn.length - 1)) * (width - left - right - 48) : (width - left - right - 48) / 2);
  const picture = svg("svg.drawing", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": words.drawing(name) });
  const line = (x1: number, y1: number, x2: number, y2: number, stroke: string, wide: number, dash?: string): SVGElement =>
    svg("line", { x1, y1, x2, y2, stroke: `var(--${stroke})`, "stroke-width": wide, "stroke-dasharray": dash });
  const text = (x: number, at: number, content: string, fill: string, anchor = "start"): SVGElement => svg("text", { x, y: at, fill: `var(--${fill})`, "font-size": 11, "text-anchor": anchor }, content);

  picture.append(line(left, top, left, height - bottom, "muted", 0.6), text(0, top - 4, words.axis(level), "muted"));
  for (const tick of y.ticks(6)) picture.append(line(left - 4, y.at(tick.value), left, y.at(tick.value), "muted", 0.6), text(left - 7, y.at(tick.value) + 4, tick.text, "muted", "end"));
  if (limit_s) picture.append(line(left, y.at(limit_s), width - right, y.at(limit_s), "ink", 1.2, "5 4"), text(width - right + 6, y.at(limit_s) + 4, words.limit(statedText(limit_s)), "ink"));
  const every = Math.ceil(drawn.length / 14);
  drawn.forEach((one, at) => {
    const x = place(at);
    const mean = y.at(one.mean_s as number);
    picture.append(line(x, y.at(one.shortest_s as number), x, y.at(one.longest_s as number), "muted", 0.8));
    const factor = errorFactor(one);
    if (factor !== null) picture.append(line(x, y.at((one.mean_s as number) / factor), x, y.at((one.mean_s as number) * factor), "positive", 4));
    picture.append(svg("circle", { cx: x, cy: mean, r: 4, fill: "var(--paper)", stroke: "var(--positive)", "stroke-width": 1.6 }));
    if (one.longer > 0) picture.append(svg("path", { d: `M${x + 8} ${mean + 5}v-10m-3 4l3 -4l3 4`, fill: "none", stroke: "var(--muted)" }));
    if (one.shorter > 0) picture.append(svg("path", { d: `M${x + 8} ${mean - 5}v10m-3 -4l3 4l3 -4`, fill: "none", stroke: "var(--muted)" }));
    if (at % every === 0) picture.append(text(x, height - bottom + 18, one.period, "muted", "middle"));
  });
  return picture;
}
