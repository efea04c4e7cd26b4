// Shapes of ebbtide.measure/1, judge/1 and fit/1 as far as the page reads them (docs/formats).

export type Polarity = "+" | "-";
export type Conformity = "pass" | "conditional pass" | "conditional fail" | "fail" | "void";
export type LevelStatus = "measured" | "not_reached" | "below_resolution" | "too_noisy" | "extrapolated" | "refused";
export type Severity = "note" | "warn" | "fail_specimen" | "void_run";

export interface Flag {
  code: string;
  severity: Severity;
  message: string;
}

export interface Contribution {
  source: string;
  u: number;
  unit: string;
  sensitivity: number;
  degrees_of_freedom: number | null;
  scope: string;
  correlated_with: string;
  correlation: number;
  pooled: boolean;
}

export interface ExtrapolatedTime {
  decay_s: number | null;
  low_s: number | null;
  high_s: number | null;
}

export interface LevelFigure {
  level: number;
  level_kind: "fraction" | "absolute_V";
  level_V: number;
  status: LevelStatus;
  reason: string;
  decay_s: number | null;
  u_decay_s: number | null;
  degrees_of_freedom: number | null;
  last_crossing_s: number | null;
  at_least_s: number | null;
  at_most_s: number | null;
  budget: Contribution[];
  monte_carlo: { low_s: number; high_s: number; u_s: number; mean_s: number; agrees: boolean } | null;
  extrapolated: ExtrapolatedTime | null;
}

export interface LawModel {
  name: string;
  outcome: string;
  reason: string;
  not_told_apart: string;
  parameters: Record<string, number>;
  standard_errors: Record<string, number | null>;
  standings: Record<string, string>;
  aicc: number | null;
  weight: number;
  rss: number | null;
}

export interface Residual {
  time_s: number;
  residual_V: number;
  u_V: number;
  law_V: number;
}

export interface Sides {
  charging_time_s: number;
  falling_time_s: number;
  difference: number;
  u_difference: number;
  agree: boolean;
}

export interface Law {
  missing: string;
  from_s: number;
  to_s: number;
  chosen: string | null;
  adequate: boolean | null;
  doubt: string;
  models: LawModel[];
  residuals: Residual[];
  sides: Sides | null;
}

export interface RunFigures {
  run: string;
  polarity: Polarity;
  release_s: number;
  u_release_s: number;
  release_source: string;
  release_delay_s: number | null;
  charging_s: number | null;
  zero_V: number;
  u_zero_V: number;
  initial_voltage_V: number | null;
  u_initial_voltage_V: number | null;
  residual_V: number | null;
  held_V: number | null;
  electrode_V: number | null;
  accepted_fraction: number | null;
  accepted_charge: number | null;
  prompt_drop: number | null;
  remaining_fraction: number | null;
  record_s: number;
  noise_V: number;
  resolution_s: number;
  levels: LevelFigure[];
  flags: Flag[];
  law: Law | null;
}

export interface RunPlace {
  specimen: string;
  face: string;
  conditions: string;
  polarity: Polarity;
  replicate: number;
  label: string;
}

export interface JudgedRun extends RunPlace {
  run: string | null;
  figures: RunFigures | null;
  flags: Flag[];
  counts: boolean;
  fails: boolean;
  without_specimen: boolean;
}

export interface Finding {
  group: string;
  runs: number[];
  bound: "value" | "at_least" | "at_most" | "none";
  value_s: number | null;
  u_s: number | null;
  expanded_u_s: number | null;
  degrees_of_freedom: number | null;
  spread_s: number | null;
  guard_s: number | null;
  wrong_acceptance: number | null;
  wrong_rejection: number | null;
  grade: string;
  supplied: number | null;
  u_supplied: number | null;
  outcome: Conformity;
  reason: string;
  budget: Contribution[];
  advice: { source: string; expanded_u_s: number; outcome: Conformity }[];
  relief: { expanded_u_s: number; runs: number | null } | null;
}

export interface RequirementOutcome {
  demand: string;
  id: string;
  clause: string;
  sentence: string;
  level: number | null;
  statistic: string | null;
  comparison: string;
  limit_s: number | null;
  quantity: string | null;
  limit: number | null;
  outcome: Conformity;
  findings: Finding[];
}

export interface Judgement {
  statement: Conformity;
  reasons: string[];
  cautions: string[];
  runs: JudgedRun[];
  requirements: RequirementOutcome[];
}
