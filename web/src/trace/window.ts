// The stretch of time that is seen, and what zooming and panning make of it. Pure.

export interface Stretch {
  from_s: number;
  to_s: number;
}

export const width = (stretch: Stretch): number => stretch.to_s - stretch.from_s;

/** At most the whole, at least `shortest_s` wide, never beyond an end of the whole. */
export function within(wanted: Stretch, whole: Stretch, shortest_s = 0): Stretch {
  const wide = Math.min(Math.max(width(wanted), shortest_s), width(whole));
  const middle = (wanted.from_s + wanted.to_s) / 2;
  const from_s = Math.min(Math.max(middle - wide / 2, whole.from_s), whole.to_s - wide);
  return { from_s, to_s: from_s + wide };
}

/** `factor` below 1 shows less; `about_s` stays where it is on the screen. */
export function zoomed(seen: Stretch, factor: number, about_s: number, whole: Stretch, shortest_s: number): Stretch {
  const wide = Math.min(Math.max(width(seen) * factor, shortest_s), width(whole));
  const share = width(seen) > 0 ? (about_s - seen.from_s) / width(seen) : 0.5;
  const from_s = about_s - share * wide;
  return within({ from_s, to_s: from_s + wide }, whole, shortest_s);
}

/** By a share of what is seen: 0.5 is half a window later. */
export function panned(seen: Stretch, share: number, whole: Stretch): Stretch {
  const by = width(seen) * share;
  const held = Math.min(Math.max(by, whole.from_s - seen.from_s), whole.to_s - seen.to_s);
  return { from_s: seen.from_s + held, to_s: seen.to_s + held };
}

/** Samples closer than a hundredth of a pixel's column are not worth a request; an answer for another number of columns is. */
export function sameView(a: Stretch, b: Stretch, columns: number): boolean {
  const grain = width(b) / Math.max(1, columns) / 100;
  return Math.abs(a.from_s - b.from_s) <= grain && Math.abs(a.to_s - b.to_s) <= grain;
}

/** What to show first: a tenth of the fall before the release, and 1.4 times the last crossing behind it, at least `least_s`. */
export function fallStretch(crossings_s: number[], whole: Stretch, least_s = 0): Stretch {
  const last = Math.max(0, ...crossings_s);
  const to_s = last > 0 ? Math.min(Math.max(1.4 * last, least_s), whole.to_s) : whole.to_s;
  return within({ from_s: -0.12 * to_s, to_s }, whole);
}
