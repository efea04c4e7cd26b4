// An axis of a drawing in SVG: value to place, and where its ticks stand (src/report/scale.hpp).

import { fixedText, significantText } from "./number_text";

export interface Tick {
  value: number;
  text: string;
}

export class Scale {
  constructor(
    readonly kind: "linear" | "logarithmic",
    readonly low: number,
    readonly high: number,
    readonly from: number,
    readonly to: number,
  ) {
    if (!(low < high) || (kind === "logarithmic" && !(low > 0))) throw new RangeError(`no axis from ${low} to ${high}`);
  }

  at(value: number): number {
    const held = Math.min(Math.max(value, this.low), this.high);
    const share = this.kind === "linear" ? (held - this.low) / (this.high - this.low) : Math.log(held / this.low) / Math.log(this.high / this.low);
    return this.from + share * (this.to - this.from);
  }

  ticks(most: number): Tick[] {
    return this.kind === "linear" ? linearTicks(this.low, this.high, most) : logarithmicTicks(this.low, this.high, most);
  }
}

function linearTicks(low: number, high: number, most: number): Tick[] {
  const rough = (high - low) / Math.max(1, most);
  let exponent = Math.floor(Math.log10(rough));
  const mantissa = [1, 2, 5, 10].find((one) => one * 10 ** exponent >= rough * (1 - 1e-9)) ?? 10;
  const step = mantissa * 10 ** exponent;
  if (mantissa === 10) ++exponent;
  const ticks: Tick[] = [];
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high + step * 1e-9; ++i) {
    ticks.push({ value: i * step, text: Math.abs(exponent) > 6 ? significantText(i * step, 2) : fixedText(i * step, Math.max(0, -exponent)) });
  }
  return ticks;
}

function logarithmicTicks(low: number, high: number, most: number): Tick[] {
  if (high / low < 8) return linearTicks(low, high, most);
  const decades = Math.log10(high / low);
  const stride = Math.max(1, Math.ceil(decades / Math.max(1, most)));
  const mantissas = decades * 3 <= most ? [1, 2, 5] : [1];
  const ticks: Tick[] = [];
  for (let exponent = Math.floor(Math.log10(low)); exponent <= Math.ceil(Math.log10(high)); ++exponent) {
    if (exponent % stride !== 0) continue;
    for (const mantissa of mantissas) {
      const value = mantissa * 10 ** exponent;
      if (value < low * (1 - 1e-9) || value > high * (1 + 1e-9)) continue;
      ticks.push({ value, text: exponent < -3 || exponent > 5 ? significantText(value, 1).replace(/^1 × /, "") : fixedText(value, Math.max(0, -exponent)) });
    }
  }
  return ticks;
}

/** The height nearest to `wanted` that keeps apart from those taken, within the chart; `wanted` itself where there is none. */
export function freePlace(wanted: number, taken: number[], apart: number, top: number, bottom: number): number {
  const free = (y: number): boolean => y >= top && y <= bottom && taken.every((other) => Math.abs(other - y) >= apart);
  for (let off = 0; off <= bottom - top; ++off) {
    if (free(wanted + off)) return wanted + off;
    if (free(wanted - off)) return wanted - off;
  }
  return wanted;
}
