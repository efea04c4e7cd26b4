// Two cursors on the time axis and what they read. Pure: the drawing and the keys stand elsewhere.

import { fixedText, placesFor, significantText } from "../figures/number_text";
import type { Stretch } from "./window";

export interface Cursors {
  /** null: not set */
  a_s: number | null;
  b_s: number | null;
  active: "a" | "b";
}

export const noCursors: Cursors = { a_s: null, b_s: null, active: "a" };

/** Sets the active cursor. */
export function placed(cursors: Cursors, at_s: number): Cursors {
  return cursors.active === "a" ? { ...cursors, a_s: at_s } : { ...cursors, b_s: at_s };
}

/** Moves the active cursor by so many columns of the window; an unset one begins in the middle. It stays in the window. */
export function moved(cursors: Cursors, columns: number, seen: Stretch, columnsSeen: number): Cursors {
  const now = (cursors.active === "a" ? cursors.a_s : cursors.b_s) ?? (seen.from_s + seen.to_s) / 2;
  const step = (seen.to_s - seen.from_s) / Math.max(1, columnsSeen);
  return placed(cursors, Math.min(Math.max(now + columns * step, seen.from_s), seen.to_s));
}

export function other(cursors: Cursors): Cursors {
  return { ...cursors, active: cursors.active === "a" ? "b" : "a" };
}

/** What lies under a cursor: the lowest and highest of the samples in its column. */
export interface Reading {
  time_s: number;
  lowest_V: number;
  highest_V: number;
}

/** The samples of the cursor's column, at least the nearest one; null outside the trace and in a gap. Times ascend. */
export function readingAt(time_s: ArrayLike<number>, volts: ArrayLike<number | null>, at_s: number, column_s: number): Reading | null {
  const count = time_s.length;
  if (count === 0) return null;
  let low = 0;
  let high = count - 1;
  const step = high > 0 ? ((time_s[high] as number) - (time_s[0] as number)) / high : 0;
  const reach = Math.max(step, column_s);
  if (at_s < (time_s[0] as number) - reach || at_s > (time_s[high] as number) + reach) return null;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if ((time_s[middle] as number) <= at_s) low = middle;
    else high = middle;
  }
  const nearest = Math.abs((time_s[low] as number) - at_s) <= Math.abs((time_s[high] as number) - at_s) ? low : high;
  const first = volts[nearest];
  if (first === null || first === undefined) return null;
  const reading = { time_s: time_s[nearest] as number, lowest_V: first, highest_V: first };
  for (const step of [-1, 1]) {
    for (let at = nearest + step; at >= 0 && at < count && Math.abs((time_s[at] as number) - at_s) <= column_s / 2; at += step) {
      const value = volts[at];
      if (value === null || value === undefined) break;
      reading.lowest_V = Math.min(reading.lowest_V, value);
      reading.highest_V = Math.max(reading.highest_V, value);
    }
  }
  return reading;
}

const middle = (reading: Reading): number => (reading.lowest_V + reading.highest_V) / 2;

/** A voltage to what the noise lets one say: places of the noise's first digit. */
export function voltageText(volts: number, noise_V: number): string {
  return `${fixedText(volts, placesFor(noise_V))} V`;
}

export interface CursorWords {
  a: string | null;
  b: string | null;
  difference: string | null;
  ratio: string | null;
}

/** In words, to what a column and the noise resolve: digits beyond a pixel's column are nobody's. */
export function cursorWords(cursors: Cursors, a: Reading | null, b: Reading | null, column_s: number, noise_V: number): CursorWords {
  const places = placesFor(column_s);
  const one = (at_s: number | null, reading: Reading | null): string | null =>
    at_s === null ? null : `${fixedText(at_s, places)} s` + (reading ? `, ${voltageText(middle(reading), noise_V)}` : "");
  const both = cursors.a_s !== null && cursors.b_s !== null;
  let difference: string | null = null;
  let ratio: string | null = null;
  if (both) {
    difference = `${fixedText((cursors.b_s as number) - (cursors.a_s as number), places)} s`;
    if (a && b) {
      difference += `, ${voltageText(middle(b) - middle(a), noise_V)}`;
      if (Math.abs(middle(a)) > 3 * noise_V) {
        const share = middle(b) / middle(a);
        const u = noise_V / Math.abs(middle(a));
        ratio = u > 0 ? `${fixedText(100 * share, placesFor(100 * u))} %` : `${significantText(100 * share, 3)} %`;
      }
    }
  }
  return { a: one(cursors.a_s, a), b: one(cursors.b_s, b), difference, ratio };
}
