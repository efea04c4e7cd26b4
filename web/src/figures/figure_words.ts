// Figures in the words of the report (src/report/words.hpp).

import type { ExtrapolatedTime, Finding, LevelFigure, Polarity, RunPlace } from "./answers";
import { fixedText, plusMinusText, significantText, statedText, uncertainText } from "./number_text";

/** A name of ours as it reads in a sentence: "not_reached" is "not reached". */
export function inWords(name: string): string {
  return name.replaceAll("_", " ");
}

const oneOverE = Math.exp(-1);

/** "10 %", "1/e", "500 V". */
export function levelText(level: number, kind: string = "fraction"): string {
  if (kind === "absolute_V") return `${statedText(level)} V`;
  if (Math.abs(level - oneOverE) < 1e-12) return "1/e";
  return `${statedText(Number((level * 100).toPrecision(10)))} %`;
}

export function polarityWord(polarity: Polarity): string {
  return polarity === "+" ? "positive" : "negative";
}

/** "+" and "−" as a reader sees them; a hyphen is no minus. */
export function polaritySign(polarity: Polarity): string {
  return polarity === "+" ? "+" : "−";
}

/** "W1 front dry, positive, run 2". */
export function runName(place: RunPlace): string {
  const parts = [place.specimen, place.face, place.conditions].filter(Boolean);
  return `${parts.join(" ")}, ${polarityWord(place.polarity)}, run ${place.replicate}`;
}

/** "0.512(31) s", "> 5.00 s (not reached)", "< 0.0200 s (below resolution)", "too noisy", "≈ 5.1 s (4.2 to 7.0), extrapolated". */
export function decayText(figure: LevelFigure): string {
  if (figure.status === "extrapolated" && figure.extrapolated) return `≈ ${extrapolatedText(figure.extrapolated)}, extrapolated`;
  if (figure.decay_s !== null) {
    let text = `${uncertainText(figure.decay_s, figure.u_decay_s)} s`;
    if (figure.status !== "measured") text += ` (${inWords(figure.status)})`;
    if (figure.last_crossing_s !== null) text += ` (last crossing ${significantText(figure.last_crossing_s, 3)} s)`;
    return text;
  }
  if (figure.at_least_s !== null) return `> ${significantText(figure.at_least_s, 3)} s (${inWords(figure.status)})`;
  if (figure.at_most_s !== null) return `< ${significantText(figure.at_most_s, 3)} s (${inWords(figure.status)})`;
  return inWords(figure.status);
}

/** To the places that two digits of a quarter of the interval reach. */
export function extrapolatedText(time: ExtrapolatedTime): string {
  const low = time.low_s ?? 0;
  const middle = time.decay_s ?? low;
  const u = time.high_s !== null ? (time.high_s - low) / 4 : (middle - low) / 2;
  const known = u > 0 ? u : 0.1 * middle;
  const places = known > 0 ? Math.min(Math.max(1 - Math.floor(Math.log10(known)), 0), 12) : 3;
  const text = (t: number): string => fixedText(t, places);
  if (time.decay_s === null) return time.low_s !== null ? `never (not before ${text(low)} s)` : "never";
  return `${text(middle)} s (${text(low)} to ${time.high_s !== null ? `${text(time.high_s)} s` : "never"})`;
}

/** "0.512(31) s", "at least 4.90 s", "no result". */
export function resultText(finding: Finding): string {
  if (finding.supplied !== null) return `${uncertainText(finding.supplied, finding.u_supplied)} (supplied)`;
  if (finding.value_s === null || finding.bound === "none") return "no result";
  if (finding.bound === "at_least") return `at least ${significantText(finding.value_s, 3)} s`;
  if (finding.bound === "at_most") return `at most ${significantText(finding.value_s, 3)} s`;
  return `${uncertainText(finding.value_s, finding.u_s)} s`;
}

/** "0.470 s ± 0.040 s" of a result that has an expanded uncertainty; else as resultText. */
export function resultInFull(finding: Finding): string {
  if (finding.bound === "value" && finding.value_s !== null && finding.expanded_u_s !== null)
    return plusMinusText(finding.value_s, finding.expanded_u_s, "s");
  return resultText(finding);
}
