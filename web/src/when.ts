// Instants and dates for people: their own time, the exact one at the pointer.

import { el } from "./el";
import { when as words } from "./words";

const minute_ms = 60_000;
const hour_ms = 60 * minute_ms;
const day_ms = 24 * hour_ms;

const clock = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit" });
const dayAndClock = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });
const dayOnly = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short", year: "numeric", timeZone: "UTC" });

/** "14:05" today, else "Wed 25 Nov, 14:05"; `at` is an instant in ISO 8601. */
export function instant(at: string): HTMLElement {
  const date = new Date(at);
  if (Number.isNaN(date.getTime())) return el("span", {}, at);
  const today = new Date().toDateString() === date.toDateString();
  return el("time", { datetime: at, title: at }, (today ? clock : dayAndClock).format(date));
}

/** "Wed, 25 Nov 2026" of a date without time. */
export function day(date: string): HTMLElement {
  const at = new Date(`${date}T00:00:00Z`);
  return el("time", { datetime: date }, Number.isNaN(at.getTime()) ? date : dayOnly.format(at));
}

/** "in 3 h 20 min", "in 2 days"; behind us: null. `now` as the program said it: a simulated bench may run ahead of this computer. */
export function until(at: string, now: string): string | null {
  const left = new Date(at).getTime() - new Date(now).getTime();
  if (!(left > 0)) return null;
  if (left < hour_ms) return words.in_minutes(Math.max(1, Math.round(left / minute_ms)));
  if (left < day_ms) return words.in_hours(Math.floor(left / hour_ms), Math.floor((left % hour_ms) / minute_ms));
  return words.in_days(Math.round(left / day_ms));
}
