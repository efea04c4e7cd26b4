// What the bench does, as it happens. A snapshot first, then the events behind it; after a lost link the same again, so
// that nothing is missed. The program and the bench go on without this page, and the page says so.

import { address, failure, get, withQuery, type Failure } from "./api";
import type { BenchState, LiveEvent } from "./bench/state";

export type Link = "opening" | "open" | "lost";

type EventListener = (event: LiveEvent, number: number) => void;

const again_ms = [250, 500, 1000, 2000, 4000];
/** No event for so long: the line may be dead, whatever the browser thinks. Then the program is asked. */
const silent_ms = 5000;
/** A snapshot is asked for at most so often. */
const refresh_ms = 200;

export class Live {
  bench: BenchState | null = null;
  link: Link = "opening";
  /** why the last try to open the line failed */
  failure: Failure | null = null;
  /** number of the last event heard; null before the first connection */
  private last: number | null = null;
  private source: EventSource | null = null;
  private tries = 0;
  private timer = 0;
  private watch = 0;
  private refreshing = 0;
  private generation = 0;
  private readonly changed = new Set<() => void>();
  private readonly heard = new Set<EventListener>();

  /** Called when the snapshot or the link has changed. */
  onChange(listener: () => void): () => void {
    this.changed.add(listener);
    return () => this.changed.delete(listener);
  }

  /** Called for each event, also those replayed. */
  onEvent(listener: EventListener): () => void {
    this.heard.add(listener);
    return () => this.heard.delete(listener);
  }

  start(): void {
    // A browser gives one address six lines: a window that nobody sees leaves its line to the others.
    document.addEventListener("visibilitychange", () => (document.hidden ? this.stop() : void this.open()));
    addEventListener("online", () => void this.open());
    void this.open();
  }

  stop(): void {
    ++this.generation;
    this.source?.close();
    this.source = null;
    clearTimeout(this.timer);
    clearTimeout(this.watch);
  }

  /** Asks how the bench stands: after an answer was given, and behind every event that changes it. */
  refresh(): void {
    if (this.refreshing) return;
    this.refreshing = window.setTimeout(async () => {
      this.refreshing = 0;
      try {
        this.bench = await get<BenchState>(address("bench"));
        this.tell();
      } catch {
        // The line itself will notice.
      }
    }, refresh_ms);
  }

  private async open(): Promise<void> {
    this.stop();
    const generation = this.generation;
    try {
      const bench = await get<BenchState>(address("bench"));
      if (generation !== this.generation) return;
      // A page that comes new tells the session from its beginning; so it does when the program was started anew.
      if (this.last === null || bench.event < this.last) this.last = bench.session ? bench.session.first_event - 1 : bench.event;
      this.bench = bench;
      this.failure = null;
    } catch (thrown) {
      if (generation !== this.generation) return;
      this.failure = failure(thrown);
      this.lost();
      return;
    }
    const source = new EventSource(withQuery(address("live"), { after: this.last }));
    this.source = source;
    source.onopen = () => {
      this.tries = 0;
      this.link = "open";
      this.alive();
      this.tell();
    };
    source.onerror = () => {
      if (generation === this.generation) this.lost();
    };
    source.onmessage = (message) => {
      this.alive();
      const number = Number(message.lastEventId);
      if (Number.isFinite(number) && number > 0) this.last = number;
      const event = JSON.parse(message.data as string) as LiveEvent;
      for (const listener of this.heard) listener(event, number);
      if (event.event !== "frame") this.refresh();
    };
  }

  private alive(): void {
    clearTimeout(this.watch);
    const generation = this.generation;
    this.watch = window.setTimeout(async () => {
      try {
        this.bench = await get<BenchState>(address("bench"), {}, AbortSignal.timeout(silent_ms));
        if (generation !== this.generation) return;
        this.alive();
        this.tell();
      } catch {
        if (generation === this.generation) this.lost();
      }
    }, silent_ms);
  }

  private lost(): void {
    this.stop();
    this.link = "lost";
    this.tell();
    const wait = again_ms[Math.min(this.tries++, again_ms.length - 1)];
    this.timer = window.setTimeout(() => void this.open(), wait);
  }

  private tell(): void {
    for (const listener of this.changed) listener();
  }
}

export const live = new Live();
