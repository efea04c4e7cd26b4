// What is answered of one run (docs/formats/page.md).

import type { Flag, JudgedRun, Law, Sides } from "../figures/answers";

export interface RunAnswer {
  key: string;
  order: string;
  run: JudgedRun;
  flags: (Flag & { meaning: string })[];
  sides: Sides | null;
  findings: { requirement: string; sentence: string; group: string; outcome: string; reason: string; value_s: number | null; u_s: number | null; limit_s: number | null }[];
  recording: { file: string; sha256: string; format: string; dialect: string };
  retest_cause: string | null;
  set_aside: string | null;
  notes: number;
  before: string | null;
  after: string | null;
}

export interface Samples {
  time_s: number[];
  volts_V: number[];
}

export interface CrossedLevel {
  level: string;
  level_V: number;
  status: string;
  decay_s: number | null;
  u_decay_s: number | null;
  at_least_s: number | null;
  at_most_s: number | null;
}

export interface TraceAnswer {
  run: string;
  samples: number;
  in_window: number;
  thinned: boolean;
  begins_s: number;
  ends_s: number;
  from_s: number;
  to_s: number;
  /** of the charge: 1 or -1 */
  sign: number;
  specimen: Samples;
  electrode: Samples | null;
  levels: CrossedLevel[];
}

export interface FitAnswer {
  run: string;
  law: Law | null;
  curve: { time_s: number[]; law_V: number[] };
  laws: { name: string; formula: string; chosen: boolean; told: string }[];
}

export interface Note {
  at: string;
  run: string;
  who: string;
  text: string;
}
