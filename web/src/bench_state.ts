// What GET /api/bench and the live events say: docs/formats/page.md, docs/formats/live.md.

export interface Guard {
  words: string;
  met: boolean;
}

export interface RunKey {
  specimen: string;
  face: string;
  conditions: string;
  polarity: "+" | "-" | null;
  replicate: number;
  label?: string;
}

export interface PlacePlan extends RunKey {
  state: "open" | "filled" | "void";
  run?: string | null;
}

export interface Question {
  number: number;
  kind: string;
  words: string;
}

export interface Session {
  kind: "order" | "check";
  order: string | null;
  phase: string | null;
  guards: Guard[];
  question: Question | null;
  paused: boolean;
  places?: PlacePlan[];
  ended: string | null;
}

export interface BenchState {
  event: number;
  session: Session | null;
}

export interface FrameChannel {
  samples: number;
  lowest: number;
  highest: number;
  mean: number;
}

export interface LiveEvent {
  event: string;
  [key: string]: unknown;
}
