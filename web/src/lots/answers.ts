// What /api/lots and /api/compare answer: docs/formats/lot.md, compare.md.

interface Interval {
  low: number | null;
  high: number | null;
}

interface Law {
  outcome: string;
  reason: string;
  aic: number | null;
  beyond_limit: (Interval & { estimate: number }) | null;
}

export interface LotBound {
  way: "lognormal" | "likelihood" | "order";
  two_sided: boolean;
  share: number;
  confidence: number;
  factor: number | null;
  lower_s: number | null;
  upper_s: number | null;
  missing: string;
}

export interface LotRisk {
  conforming: number | null;
  wrong_acceptance: number | null;
  wrong_rejection: number | null;
  history: { source: string } | null;
  global: { consumer: number; producer: number; open_conforming: number } | null;
}

export interface Lot {
  orders: string[];
  requirement: string;
  sentence: string;
  group: string;
  sampling_plan: string;
  specimens: number;
  values: number;
  measured: number;
  left_out: string[];
  limit_s: number | null;
  over_limit: number | null;
  kaplan_meier: { decay_s: number; survival: number; low: number | null; high: number | null }[];
  lognormal: Law & { mu: number | null; sigma: number | null };
  weibull: Law & { scale_s: number | null; shape: number | null };
  quantiles: { share: number; decay_s: number; low_s: number | null; high_s: number | null }[];
  tolerance: LotBound[];
  claim: { share: number; confidence: number };
  showing: "shown" | "open" | "refuted" | null;
  risk: LotRisk | null;
  in_plain_words: string;
  reasons: string[];
  cautions: string[];
}

export interface LotsAnswer {
  lots: Lot[];
}

export interface CompareAnswer {
  sources: string[];
  level: string | null;
  by: string;
  alike_within: number;
  groups: { name: string; specimens: number; measured: number; mean_s: number | null; low_s: number | null; high_s: number | null; spread_factor: number | null; missing: string }[];
  pairs: { first: string; second: string; ratio: number | null; low: number | null; high: number | null; paired: boolean; p: number; alike_p: number }[];
  left_out: string[];
  reasons: string[];
  cautions: string[];
}
