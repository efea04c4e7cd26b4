// What /api/orders answers (docs/formats/page.md).

import type { Flag, JudgedRun, Judgement, Polarity, RunPlace } from "../figures/answers";

export interface OrderLine {
  key: string;
  id: string;
  title: string;
  customer: string;
  revision: number | null;
  materials: string[];
  suppliers: string[];
  received: string | null;
  due: string | null;
  issued: string | null;
  method: string;
  specification: string;
  specimens: number;
  recorded: number | null;
  open: number | null;
  live: boolean;
  statement: string | null;
  /** keys of other folders with an order of this id */
  same_id: string[];
  error: { what: string; where: string; remedy: string } | null;
}

export interface OrdersAnswer {
  folder: string;
  orders: OrderLine[];
}

export interface PlanPlace extends RunPlace {
  state: "open" | "filled" | "void";
  run: string | null;
  runs: string[];
  index: number | null;
}

export interface BudgetPart {
  source: string;
  u: number;
  unit: string;
  sensitivity: number;
  share_s: number;
  percent: number;
  scope: string;
  words: string;
}

export interface DecidingBudget {
  requirement: string;
  group: string;
  value_s: number | null;
  u_s: number | null;
  limit_s: number | null;
  outcome: string;
  parts: BudgetPart[];
  advice: string[];
}

/** As in record/1; only what the page shows. */
export interface OrderDocument {
  id: string;
  title: string;
  revision: number;
  customer: { name: string; address: string; contact: string };
  received: string | null;
  sampled: string | null;
  due?: string | null;
  tested_from: string;
  tested_to: string;
  issued: string | null;
  tested_by: string;
  authorised_by: string | null;
  sampling_plan?: string | null;
  decision_rule: { kind: string; guard_times_U: number | null; guard_s: number | null; agreed: string };
  items: { id: string; description: string; lot: string; supplier: string; condition_on_receipt: string }[];
  specimens: { id: string; item: string; direction: string; place: string; state: string }[];
  conditions: OrderConditions[];
  deviations: string[];
}

export interface OrderConditions {
  id: string;
  relative_humidity_percent?: number | null;
  temperature_C?: number | null;
  conditioned_from?: string | null;
  conditioned_to?: string | null;
}

export interface OrderAnswer {
  key: string;
  order: OrderDocument;
  method: MethodDocument;
  specification: { id: string; edition: string; title: string };
  bench: { id: string; revision: string } | null;
  inputs: { role: string; name: string; sha256: string; bytes: number }[];
  recordings: { file: string; sha256: string; bytes: number; format: string; dialect: string; runs: string[] }[];
  live: boolean;
  places: PlanPlace[];
  judgement: Judgement | null;
  budgets: DecidingBudget[];
  levels: string[];
  reports: { name: string; bytes: number; revision: number | null }[];
  notes: number;
}

export interface MethodDocument {
  id: string;
  edition: string;
  title: string;
  charging?: { polarities?: string };
  conditioning?: {
    relative_humidity_percent?: Tolerance | null;
    temperature_C?: Tolerance | null;
    at_least_h?: number | null;
    at_most_h?: number | null;
  } | null;
}

export interface Tolerance {
  nominal: number;
  plus_minus: number;
}

export interface SmallTrace {
  run: string;
  time_s: number[];
  specimen_V: number[];
  electrode_V: number[] | null;
}

export interface Issued {
  file: string;
  name: string;
  sha256: string;
  bytes: number;
  statement: string;
  in_ledger: boolean;
  order: string;
  revision: number;
}

export type { Flag, JudgedRun, Polarity };
