// What the bench has done in this session, told from its events; the snapshot sets right what the events left open.

import { FrameStore } from "./frame_store";
import { live } from "../live";
import type { BenchState, CheckFigure, Flag, Guard, Level, LiveEvent, PlanPlace, Question } from "./state";

/** Something wrong, and how to mend it. */
export interface Trouble {
  what: string;
  mend: string | null;
  /** something may be live, or a command was not taken */
  grave: boolean;
}

export interface RunSeen {
  run: string;
  label: string;
  counts: boolean;
  levels: Level[];
  flags: Flag[];
  words: string | null;
}

export interface CheckSeen {
  closing: boolean;
  good: boolean;
  reason: string;
  figures: CheckFigure[];
  good_until: string | null;
}

export interface EndSeen {
  kind: "order" | "check";
  done: boolean;
  words: string;
  recorded: number;
  aborted: number;
  open: number;
  may_be_live: string;
}

/** Newest last; older ones are in the order's log. */
const troubles_kept = 20;
const said_kept = 4;

export class BenchStory {
  readonly frames = new FrameStore();
  phase = "";
  phase_from_s = 0;
  /** where nothing holds it up; null: not set beforehand */
  phase_lasts_s: number | null = null;
  /** what the program says of the phase */
  words = "";
  guards: Guard[] = [];
  /** by the clock of this computer: since when nothing has changed in what is waited for */
  guards_since_ms = 0;
  question: Question | null = null;
  places: PlanPlace[] = [];
  phases: { at_s: number; phase: string }[] = [];
  /** directions of the charge, from when on */
  signs: { at_s: number; sign: 1 | -1 }[] = [];
  runs = new Map<string, RunSeen>();
  lastRun: RunSeen | null = null;
  /** label of the place, or step of a check, that is under way */
  under: { label: string; from_s: number } | null = null;
  steps: { step: string; words: string }[] = [];
  troubles: Trouble[] = [];
  /** what the program told on its way */
  said: string[] = [];
  checked: CheckSeen | null = null;
  ended: EndSeen | null = null;

  private specimen = 0;
  private electrode = 1;
  private number = 0;
  private readonly listeners = new Set<(frame: boolean) => void>();

  /** `frame`: only samples came. */
  onChange(listener: (frame: boolean) => void): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  get running(): boolean {
    return live.bench?.session !== null && live.bench?.session !== undefined && !live.bench.session.ended;
  }

  signAt(time_s: number): number {
    return this.signs.findLast((one) => one.at_s <= time_s)?.sign ?? this.signs[0]?.sign ?? 1;
  }

  take(event: LiveEvent, number: number): void {
    this.number = Math.max(this.number, number);
    this.tell(event);
    for (const listener of this.listeners) listener(event.event === "frame");
  }

  /** A snapshot is taken at its word, unless events that it does not know yet were heard. */
  set(bench: BenchState): void {
    const { session } = bench;
    if (session && bench.event >= this.number) {
      if (session.phase !== this.phase || this.guards.length === 0) {
        this.phase = session.phase;
        this.phase_lasts_s = null;
        this.words = session.words;
        this.wait(session.guards);
      }
      this.question = session.question;
      const label = typeof session.run === "string" ? session.run : (session.run?.label ?? null);
      if (label === null) this.under = null;
      else if (this.under?.label !== label) this.under = { label, from_s: this.frames.to_s };
      if (session.places.length > 0) this.places = session.places;
    }
    for (const listener of this.listeners) listener(false);
  }

  private begin(): void {
    this.frames.clear();
    this.phase = this.words = "";
    this.phase_from_s = 0;
    this.phase_lasts_s = null;
    this.guards = [];
    this.question = null;
    this.places = [];
    this.phases = [];
    this.signs = [];
    this.runs = new Map();
    this.lastRun = this.under = null;
    this.steps = [];
    this.troubles = [];
    this.said = [];
    this.checked = this.ended = null;
  }

  private wait(guards: Guard[]): void {
    this.guards = guards;
    this.guards_since_ms = Date.now();
  }

  private trouble(what: string, mend: string | null = null, grave = false): void {
    if (!what) return;
    this.troubles = [...this.troubles, { what, mend, grave }].slice(-troubles_kept);
  }

  private tell(event: LiveEvent): void {
    switch (event.event) {
      case "session_begun":
        return this.begin();
      case "source_opened":
        this.frames.clear();
        this.specimen = event.channels.findIndex((one) => one.quantity.startsWith("specimen"));
        this.electrode = event.channels.findIndex((one) => one.quantity.startsWith("electrode"));
        return;
      case "frame":
        return this.frames.put(event, this.specimen, this.electrode);
      case "plan_changed":
        this.places = event.places;
        return;
      case "run_begun":
        this.under = { label: event.place?.label ?? event.step ?? "", from_s: event.bench_s ?? this.frames.to_s };
        return;
      case "phase_entered":
        this.phase = event.phase;
        this.phase_from_s = event.bench_s ?? this.frames.to_s;
        this.phase_lasts_s = event.lasts_s;
        this.words = event.words;
        this.wait(event.guards);
        this.phases.push({ at_s: this.phase_from_s, phase: event.phase });
        return;
      case "guards_changed":
        this.wait(event.guards);
        this.words = event.words;
        return;
      case "command_sent":
        if (event.voltage_V) this.signs.push({ at_s: event.bench_s ?? this.frames.to_s, sign: event.voltage_V < 0 ? -1 : 1 });
        return;
      case "command_refused":
        return this.trouble(event.words, null, true);
      case "may_be_live":
        return this.trouble(event.words, null, true);
      case "bench_found":
        if (event.output_was_on) this.trouble(event.words, null, true);
        return;
      case "run_recorded":
        this.lastRun = {
          run: event.run,
          label: event.place?.label ?? "",
          counts: event.counts,
          levels: event.levels,
          flags: event.flags,
          words: event.words,
        };
        this.runs.set(this.lastRun.label, this.lastRun);
        this.under = null;
        if (event.words) this.trouble(`${this.lastRun.label}: ${event.words}`);
        return;
      case "step_recorded":
        this.steps.push({ step: event.place?.label ?? event.step ?? "", words: "" });
        this.under = null;
        return;
      case "run_aborted": {
        const label = event.place?.label ?? event.step ?? "";
        if (event.step) this.steps.push({ step: event.step, words: event.words });
        this.under = null;
        return this.trouble(label ? `${label}: ${event.words}` : event.words);
      }
      case "prompt":
        this.said = [...this.said, event.text].slice(-said_kept);
        return;
      case "question_asked":
        this.question = event.question;
        return;
      case "question_answered":
        this.question = null;
        return;
      case "bench_checked":
        this.checked = { ...event, reason: event.reason ?? "" };
        return;
      case "session_ended":
        this.question = null;
        this.under = null;
        this.ended = { ...event, words: event.words ?? "", may_be_live: event.may_be_live ?? "" };
        if (event.may_be_live) this.trouble(event.may_be_live, null, true);
        return;
    }
  }
}

export const story = new BenchStory();
live.onEvent((event, number) => story.take(event, number));
live.onChange(() => live.bench && story.set(live.bench));
