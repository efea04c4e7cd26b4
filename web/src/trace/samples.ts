// Samples of the window that is seen, thinned by the program to the chart's columns. The last picture stays until the
// new one comes; a window that is left meanwhile is asked for no more.

import { address, get } from "../api";
import type { TraceAnswer } from "./answers";
import { sameView, type Stretch } from "./window";

const settle_ms = 90;

export class Samples {
  private asked: AbortController | null = null;
  private timer: ReturnType<typeof setTimeout> | undefined;
  private drawn: { seen: Stretch; columns: number; runs: string } | null = null;

  constructor(
    private readonly key: string,
    private readonly left: AbortSignal,
    /** Called with one answer a run, in their order. */
    private readonly came: (answers: TraceAnswer[]) => void,
    private readonly failed: (thrown: unknown) => void,
    private readonly busy: (on: boolean) => void,
  ) {
    left.addEventListener("abort", () => this.stop());
  }

  /** Asks when the window has stood still for a moment, at once when `now`. */
  want(runs: string[], seen: Stretch, columns: number, now = false): void {
    const names = runs.join(" ");
    if (this.drawn && this.drawn.runs === names && this.drawn.columns === columns && sameView(this.drawn.seen, seen, columns)) return;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.ask(runs, names, seen, columns), now ? 0 : settle_ms);
  }

  private stop(): void {
    clearTimeout(this.timer);
    this.asked?.abort();
  }

  private async ask(runs: string[], names: string, seen: Stretch, columns: number): Promise<void> {
    this.asked?.abort();
    const mine = new AbortController();
    this.asked = mine;
    this.busy(true);
    try {
      const query = { from_s: seen.from_s, to_s: seen.to_s, columns };
      const answers = await Promise.all(runs.map((run) => get<TraceAnswer>(address("orders", this.key, "runs", run, "trace"), query, mine.signal)));
      if (mine.signal.aborted || this.left.aborted) return;
      this.drawn = { seen, columns, runs: names };
      this.busy(false);
      this.came(answers);
    } catch (thrown) {
      if (mine.signal.aborted || this.left.aborted) return;
      this.busy(false);
      this.failed(thrown);
    }
  }
}
