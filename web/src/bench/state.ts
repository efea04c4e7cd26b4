// What GET /api/bench answers and what the live events say, as far as the page reads them: docs/formats/page.md,
// docs/formats/live.md.

export interface Guard {
  name?: string;
  words: string;
  /** what mends it; null for what time mends */
  remedy?: string | null;
  /** null: not read to its end yet */
  met: boolean | null;
}

export interface Place {
  specimen: string;
  face: string;
  conditions: string;
  polarity: "+" | "-" | null;
  replicate: number;
  label: string;
}

export interface PlanPlace extends Place {
  state?: "open" | "filled" | "void";
  filled?: boolean;
  runs?: number | string[];
  run?: string | null;
}

export interface Question {
  number: number;
  kind: "setup" | "mount" | "leave" | "look";
  words: string;
}

export interface CheckStanding {
  asked: boolean;
  good: boolean;
  reason: string;
  good_until: string | null;
}

export interface BenchAtHand {
  bench: string;
  revision: string;
  orders: string[];
  simulated: boolean;
  check: CheckStanding;
  setup: string[];
}

export interface Session {
  kind: "order" | "check";
  key: string | null;
  who: string;
  /** number of its first event: from there on the page tells the session again */
  first_event: number;
  phase: string;
  words: string;
  guards: Guard[];
  question: Question | null;
  paused: boolean;
  /** place, or step of a check, that is under way */
  run: Place | string | null;
  places: PlanPlace[];
  /** null while it goes on */
  ended: { reason: string; good: boolean } | null;
}

export interface BenchState {
  /** the clock by which checks expire */
  at: string;
  event: number;
  benches: BenchAtHand[];
  session: Session | null;
}

export interface Level {
  level: number;
  level_kind: string;
  status: string;
  decay_s: number | null;
  u_decay_s: number | null;
  at_least_s: number | null;
  at_most_s: number | null;
}

export interface Flag {
  code: string;
  severity: string;
  message: string;
}

interface At {
  bench_s: number | null;
}

export type LiveEvent =
  | { event: "source_opened"; source: string; channels: { quantity: string }[] }
  | { event: "frame"; from_s: number; to_s: number; channels: ({ samples: number; lowest: number; highest: number; mean: number } | null)[] }
  | { event: "plan_changed"; places: PlanPlace[]; next: number | null }
  | ({ event: "run_begun"; place: Place | null; step: string | null } & At)
  | ({
      event: "run_recorded";
      run: string;
      place: Place | null;
      counts: boolean;
      fails: boolean;
      levels: Level[];
      flags: Flag[];
      words: string | null;
    } & At)
  | ({ event: "step_recorded"; place: Place | null; step: string | null } & At)
  | ({ event: "run_aborted"; place: Place | null; step: string | null; words: string } & At)
  | { event: "prompt"; text: string }
  | ({ event: "session_begun"; kind: "order" | "check"; order: string | null; closing: boolean } & At)
  | ({ event: "bench_found"; words: string; output_was_on: boolean; at_rest: boolean } & At)
  | ({ event: "phase_entered"; phase: string; because: string; words: string; guards: Guard[]; lasts_s: number | null } & At)
  | ({ event: "guards_changed"; phase: string; words: string; guards: Guard[] } & At)
  | ({ event: "command_sent"; phase: string; command: string; voltage_V: number | null; words: string } & At)
  | ({ event: "command_refused"; phase: string; command: string; voltage_V: number | null; words: string } & At)
  | ({ event: "may_be_live"; phase: string; words: string } & At)
  | ({ event: "question_asked"; question: Question } & At)
  | ({ event: "question_answered"; question: Question; answer: string } & At)
  | ({ event: "check_overridden"; by: string; reason: string; words: string } & At)
  | ({ event: "bench_checked"; closing: boolean; good: boolean; reason: string | null; figures: CheckFigure[]; good_until: string | null } & At)
  | ({
      event: "session_ended";
      kind: "order" | "check";
      done: boolean;
      words: string | null;
      recorded: number;
      aborted: number;
      open: number;
      may_be_live: string | null;
    } & At)
  | { event: "run_fallen" | "run_corrected" | "notice" | "source_ended" | "run_broken_off" };

export interface CheckFigure {
  name: string;
  polarity: "+" | "-" | null;
  unit: string;
  value: number | null;
  least: number;
  most: number;
  within: boolean;
}
