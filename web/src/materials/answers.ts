// What /api/materials, /api/find and /api/predict answer (docs/formats/page.md, ledger.md, predict.md).

import type { LevelStatus } from "../figures/answers";

export interface TrendPeriod {
  period: string;
  times: number;
  mean_s: number | null;
  spread_factor: number | null;
  shortest_s: number | null;
  longest_s: number | null;
  longer: number;
  shorter: number;
  orders: number | null;
  failed: number | null;
}

export interface TrendSeries {
  material: string;
  method: string;
  conditions: string | null;
  level: number;
  level_kind: string;
  transcribed: boolean;
  periods: TrendPeriod[];
}

export interface Material {
  material: string;
  series: TrendSeries[];
  times: number;
  first: string;
  last: string;
}

export interface MaterialsAnswer {
  ledger: string | null;
  materials: Material[];
}

export interface FoundLevel {
  run: string | null;
  item: string;
  specimen: string;
  face: string;
  conditions: string;
  polarity: string;
  replicate: number;
  level: number | null;
  level_kind: string | null;
  status: LevelStatus | null;
  decay_s: number | null;
  u_decay_s: number | null;
  counts: boolean;
}

export interface FoundOrder {
  order: string;
  /** names of the folders that hold it; none: it does not lie in the folder that is served */
  keys: string[];
  revision: number;
  customer: string;
  items: { id: string; material: string; lot: string }[];
  method: { id: string; edition: string };
  specification: { id: string; edition: string };
  statement: string;
  tested_from: string;
  tested_to: string;
  issued: string | null;
  runs: number;
  levels: FoundLevel[];
}

export interface FindAnswer {
  orders: FoundOrder[];
  left_off?: number;
}

export interface PredictedSheet {
  at: number;
  surface_resistivity_ohm_sq: number;
  time_constant_s: number;
  capacitance_F_m2: number;
  induced_fraction: number;
  levels: { level: string; decay_s: number; after_release_s: number; other_decay_s: number | null }[];
  meets: boolean | null;
}

export interface PredictAnswer {
  operator: string;
  capacitance_source: string;
  u_capacitance: number;
  caution: string;
  asked: PredictedSheet | null;
  other_surface_resistivity_ohm_sq: number | null;
  swept: string | null;
  sweep: PredictedSheet[];
  meets_s: number | null;
  highest_that_meets_ohm_sq: number | null;
}
