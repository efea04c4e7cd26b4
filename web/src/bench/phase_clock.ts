// How long the phase still takes where that is set beforehand; else, or when it takes longer, since when it goes on. Pure.

import { bench as words } from "../words";

/** By the bench's own clock; `lasts_s` null: not set beforehand. */
export function phaseClock(gone_s: number, lasts_s: number | null): string {
  if (gone_s < 0) return "";
  const left_s = (lasts_s ?? 0) - gone_s;
  return left_s > 0 ? words.left(left_s) : words.since(gone_s);
}
