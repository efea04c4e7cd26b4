// Numbers as text, as the report writes them (src/basis/number_text.hpp): never more digits than the uncertainty carries.

const minus = (text: string): string => text.replace("-", "−");

/** `value` with `places` digits after the point; halves go to the even digit, as in the report. */
export function fixedText(value: number, places: number): string {
  let text = value.toFixed(places);
  const exact = Math.abs(value).toFixed(Math.min(100, places + 40));
  if (/^50*$/.test(exact.slice(exact.length - 40)) && places + 40 <= 100) {
    const down = exact.slice(0, exact.length - 40).replace(/\.$/, "");
    if (/[02468]$/.test(down)) text = (value < 0 ? "-" : "") + down;
  }
  return minus(/[1-9]/.test(text) ? text : text.replace("-", ""));
}

/** Two digits more than `digits` - 1 and the exponent of ten: [4.2, -3]. */
function scientific(value: number, digits: number): { mantissa: string; exponent: number } {
  const [mantissa = "0", exponent = "0"] = value.toExponential(digits - 1).split("e");
  return { mantissa, exponent: Number(exponent) };
}

/** With `digits` significant digits, trailing zeros kept: "0.500"; far from one with a power of ten: "4.20 × 10⁹". */
export function significantText(value: number, digits: number): string {
  if (value === 0) return fixedText(0, Math.max(0, digits - 1));
  const { mantissa, exponent } = scientific(value, digits);
  if (exponent < -3 || exponent >= 6) return `${minus(mantissa)} × 10${raised(exponent)}`;
  return fixedText(value, Math.max(0, digits - 1 - exponent));
}

function raised(exponent: number): string {
  return [...String(exponent)].map((c) => "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"["-0123456789".indexOf(c)]).join("");
}

/** Limits and settings, as somebody wrote them: the fewest digits that mean the same. */
export function statedText(value: number): string {
  return minus(String(value));
}

function usable(u: number | null | undefined): u is number {
  return u !== null && u !== undefined && Number.isFinite(u) && u > 0;
}

/** "0.5123(31)": two digits of the standard uncertainty after the last ones; "0.1 ± 1.2" where it is the larger. Four digits without it. */
export function uncertainText(value: number, u: number | null | undefined): string {
  if (!usable(u)) return significantText(value, 4);
  const { mantissa, exponent } = scientific(u, 2);
  const places = 1 - exponent;
  if (Math.abs(value) < u || places < 0 || places > 12) {
    const shown = Math.min(Math.max(places, 0), 17);
    return `${fixedText(value, shown)} ± ${fixedText(u, shown)}`;
  }
  if (places === 0) return `${fixedText(value, 0)}(${Math.round(Number(mantissa) * 10)})`;
  return `${fixedText(value, places)}(${exponent >= 0 ? fixedText(u, places) : Math.round(Number(mantissa) * 10)})`;
}

/** "0.470 s ± 0.040 s": with the expanded uncertainty in full. */
export function plusMinusText(value: number, expanded: number | null | undefined, unit: string): string {
  if (!usable(expanded)) return `${significantText(value, 4)} ${unit}`;
  const places = Math.min(Math.max(1 - scientific(expanded, 2).exponent, 0), 17);
  return `${fixedText(value, places)} ${unit} ± ${fixedText(expanded, places)} ${unit}`;
}

const prefixes: [number, string][] = [[1e12, "T"], [1e9, "G"], [1e6, "M"], [1e3, "k"], [1, ""], [1e-3, "m"], [1e-6, "µ"], [1e-9, "n"], [1e-12, "p"]];

/** With a prefix of the SI where the number would be small or large: "0.40 ms". */
export function prefixedText(value: number, digits: number, unit: string): string {
  const size = Math.abs(value);
  if (size === 0) return `0 ${unit}`;
  if (size >= 0.1 && size < 1e4) return `${significantText(value, digits)} ${unit}`;
  const [factor, prefix] = prefixes.find(([least]) => size >= least) ?? [1, ""];
  return `${significantText(value / factor, digits)} ${prefix}${unit}`;
}

/** "97.1 %". */
export function percentText(fraction: number, places = 1): string {
  return `${fixedText(100 * fraction, places)} %`;
}

/** "< 0.1 %" for what would round to nothing. */
export function probabilityText(probability: number): string {
  return probability < 0.001 ? "< 0.1 %" : percentText(probability);
}

/** "∞" where there is none; beyond what makes a difference "> 10 000". */
export function freedomText(freedom: number | null): string {
  return freedom === null ? "∞" : freedom > 10_000 ? "> 10 000" : fixedText(freedom, 0);
}

/** Places of a value that is known to `step`: of a pixel 0.0021 s wide 4, for no digit may claim more than the eye can place. */
export function placesFor(step: number): number {
  return step > 0 ? Math.min(Math.max(Math.ceil(-Math.log10(step)), 0), 9) : 3;
}

/** What was typed, as a number; decimal point only, as in our files: "1,5" is none. */
export function numberOf(text: string): number | null {
  return /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(text.trim()) ? Number(text) : null;
}

/** "2026-09-14 07:40 UTC" */
/** Numbers stay with their unit and their sign of comparison at the end of a line. */
export function unbroken(text: string): string {
  return text.replace(/([<>≤≥±≈]) (?=\d)/g, "$1\u00a0").replace(/([\d)]) (?=(?:s|V|kV|h|%)(?![\p{L}\d]))/gu, "$1\u00a0");
}

/** A name so short that a line of its own would be a waste: "Roll 7". */
export function unbrokenShort(text: string): string {
  return text.length <= 10 ? text.replaceAll(" ", "\u00a0") : text;
}

export function instantText(instant: string): string {
  const time = new Date(instant);
  return Number.isNaN(time.getTime()) ? instant : `${time.toISOString().slice(0, 16).replace("T", " ")} UTC`;
}
