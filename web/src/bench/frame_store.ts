// Hours of what the bench shows, in a ring of fixed size: lowest and highest of both channels every tenth of a second.

/** As it comes: /api/live, `frame`. A channel without samples is null. */
export interface Frame {
  from_s: number;
  to_s: number;
  channels: ({ samples: number; lowest: number; highest: number; mean: number } | null)[];
}

/** Seven hours at ten frames a second. */
const capacity = 1 << 18;
/** A coarse entry stands for so many frames. */
const coarse = 32;

type Numbers = Float64Array;

/** Time and the extremes of two channels; an absent channel is NaN. */
class Ring {
  private readonly time: Numbers;
  private readonly low: [Numbers, Numbers];
  private readonly high: [Numbers, Numbers];
  /** ever put in; the last `size` of them are there */
  count = 0;

  constructor(private readonly size: number) {
    const make = () => new Float64Array(size);
    this.time = make();
    this.low = [make(), make()];
    this.high = [make(), make()];
  }

  get first(): number {
    return Math.max(0, this.count - this.size);
  }
  put(time_s: number, low: readonly number[], high: readonly number[]): void {
    const at = this.count++ % this.size;
    this.time[at] = time_s;
    for (const channel of [0, 1] as const) {
      this.low[channel][at] = low[channel] ?? NaN;
      this.high[channel][at] = high[channel] ?? NaN;
    }
  }
  at(index: number): number {
    return this.time[index % this.size] as number;
  }
  lowest(channel: 0 | 1, index: number): number {
    return this.low[channel][index % this.size] as number;
  }
  highest(channel: 0 | 1, index: number): number {
    return this.high[channel][index % this.size] as number;
  }
  /** The first entry at or behind `time_s`. */
  find(time_s: number): number {
    let low = this.first;
    let high = this.count;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.at(middle) < time_s) low = middle + 1;
      else high = middle;
    }
    return low;
  }
  clear(): void {
    this.count = 0;
  }
}

export interface Thinned {
  time_s: number[];
  specimen_V: (number | null)[];
  electrode_V: (number | null)[];
}

export class FrameStore {
  private readonly fine = new Ring(capacity);
  private readonly rough = new Ring(capacity / coarse);
  private low: [number, number] = [NaN, NaN];
  private high: [number, number] = [NaN, NaN];
  private latest_: { specimen_V: number | null; electrode_V: number | null } = { specimen_V: null, electrode_V: null };

  /** Another source has another time axis. */
  clear(): void {
    this.fine.clear();
    this.rough.clear();
    this.latest_ = { specimen_V: null, electrode_V: null };
  }

  /** `specimen`, `electrode`: which channel is which; -1: not there. A frame from before the last one is not taken. */
  put(frame: Frame, specimen: number, electrode: number): void {
    if (this.fine.count > 0 && frame.to_s <= this.to_s) return;
    const of = [frame.channels[specimen] ?? null, frame.channels[electrode] ?? null];
    const low = of.map((channel) => channel?.lowest ?? NaN);
    const high = of.map((channel) => channel?.highest ?? NaN);
    this.fine.put(frame.to_s, low, high);
    for (const channel of [0, 1] as const) {
      this.low[channel] = fmin(this.low[channel], low[channel] as number);
      this.high[channel] = fmax(this.high[channel], high[channel] as number);
    }
    if (this.fine.count % coarse === 0) {
      this.rough.put(frame.to_s, this.low, this.high);
      this.low = [NaN, NaN];
      this.high = [NaN, NaN];
    }
    this.latest_ = { specimen_V: of[0]?.mean ?? null, electrode_V: of[1]?.mean ?? null };
  }

  get empty(): boolean {
    return this.fine.count === 0;
  }
  get from_s(): number {
    return this.empty ? 0 : this.fine.at(this.fine.first);
  }
  get to_s(): number {
    return this.empty ? 0 : this.fine.at(this.fine.count - 1);
  }
  get latest(): { specimen_V: number | null; electrode_V: number | null } {
    return this.latest_;
  }

  /**
   * At most two points a column and channel: its lowest and its highest. `sign(time)` turns both channels into the direction of
   * the charge, for a logarithmic axis; absent, they stay as they are.
   */
  thinned(from_s: number, to_s: number, columns: number, sign?: (time_s: number) => number): Thinned {
    const out: Thinned = { time_s: [], specimen_V: [], electrode_V: [] };
    const width = (to_s - from_s) / columns;
    if (!(width > 0)) return out;
    const many = this.fine.find(to_s) - this.fine.find(from_s) > 4 * coarse * columns;
    const ring = many ? this.rough : this.fine;
    // The rough ring lags by what has not filled an entry yet; at that width nobody sees it.
    let at = ring.find(from_s);
    const end = Math.min(ring.find(to_s) + 1, ring.count);
    while (at < end) {
      const column = Math.floor((ring.at(at) - from_s) / width);
      let [low0, high0, low1, high1] = [NaN, NaN, NaN, NaN];
      const first = at;
      while (at < end && Math.floor((ring.at(at) - from_s) / width) === column) {
        low0 = fmin(low0, ring.lowest(0, at));
        high0 = fmax(high0, ring.highest(0, at));
        low1 = fmin(low1, ring.lowest(1, at));
        high1 = fmax(high1, ring.highest(1, at));
        ++at;
      }
      const s = sign?.(ring.at(first)) ?? 1;
      const begin = ring.at(first);
      const last = ring.at(at - 1);
      push(out, begin, NaN, NaN);
      push(out, last > begin ? last : begin + 0.5 * width, NaN, NaN);
      place(out.specimen_V, s * low0, s * high0);
      place(out.electrode_V, s * low1, s * high1);
    }
    return out;
  }

  /** Mean level of the specimen over a stretch, from the middles of its frames; null where there is none. */
  specimenMean(from_s: number, to_s: number): number | null {
    let sum = 0;
    let n = 0;
    for (let at = this.fine.find(from_s); at < this.fine.count && this.fine.at(at) <= to_s; ++at) {
      const middle = 0.5 * (this.fine.lowest(0, at) + this.fine.highest(0, at));
      if (Number.isFinite(middle)) {
        sum += middle;
        ++n;
      }
    }
    return n > 0 ? sum / n : null;
  }
}

/** The two last entries: the one nearer to what came before goes first, so that a fall is drawn as one. */
function place(column: (number | null)[], low: number, high: number): void {
  if (Number.isNaN(low)) return;
  const before = column[column.length - 3] ?? low;
  const rising = Math.abs(before - low) <= Math.abs(before - high);
  column[column.length - 2] = rising ? low : high;
  column[column.length - 1] = rising ? high : low;
}

function push(out: Thinned, time_s: number, specimen_V: number, electrode_V: number): void {
  out.time_s.push(time_s);
  out.specimen_V.push(Number.isNaN(specimen_V) ? null : specimen_V);
  out.electrode_V.push(Number.isNaN(electrode_V) ? null : electrode_V);
}

const fmin = (a: number, b: number): number => (Number.isNaN(a) ? b : Number.isNaN(b) ? a : Math.min(a, b));
const fmax = (a: number, b: number): number => (Number.isNaN(a) ? b : Number.isNaN(b) ? a : Math.max(a, b));
