// What /api/imports answers (docs/formats/page.md).

import type { Flag, RunFigures } from "../figures/answers";
import type { SmallTrace } from "../order/answers";

export interface ImportAnswer {
  id: string;
  name: string;
  bytes: number;
  sha256: string;
  recognised: { format: string | null; dialect: string | null; channels: { heading: string; unit: string; factor_to_SI: number; quantity: string }[] };
  notices: { kind: string; text: string }[];
  flags: Flag[];
  runs: RunFigures[];
  traces: SmallTrace[];
}

export interface KeptAnswer {
  key: string;
  runs: { run: string; file: string | null; place: { label?: string; specimen: string; face: string; polarity: string; replicate: number } | null; counts: boolean }[];
}
