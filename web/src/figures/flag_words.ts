// What each flag means for the person at the bench, and how to mend it. Codes are those of docs/flags.md.

import type { Severity } from "./answers";

export interface FlagWords {
  /** as a heading */
  name: string;
  mend: string;
}

const mends: Record<string, string> = {
  no_decay: "See that the right channel was recorded and that the record goes on past the release.",
  values_missing: "Look for overload texts of the recorder and for packets that were lost.",
  time_gap: "Give the recorder a larger buffer, or do not pause it during a run.",
  time_ran_backwards: "Do not set the recorder’s clock during a recording; import joined files one by one.",
  time_repeated: "Let the recorder write more digits of the time.",
  torn_last_line: "Copy the file again once the recorder has closed it.",
  recording_damaged: "Copy it again from where it was made; check the disk.",
  torn_tail: "Copy it again if the recorder still has it; else look whether the fall is whole.",
  samples_lost: "Close other programs on this computer, or use a slower logger or a socket.",
  clipped: "Choose a larger range of the sensor or the recorder and repeat the run.",
  clipping_suspected: "Check the range, and state the full scale in the bench file.",
  spikes: "Look for sparks, loose cables and connectors.",
  zero_unproven: "Record the closed shutter before charging, and say so in the bench file.",
  zero_outside_limit: "Clean the sensor’s face and set its zero; repeat the run.",
  residual_high: "Neutralise the specimen again, wait for the ions to go, repeat the run.",
  starts_in_hold: "Start the recorder before the charge.",
  starts_at_release: "Give the recorder a pre-trigger, so that the hold is in the record.",
  release_unseen: "Record the electrode voltage or a release marker.",
  electrode_unseen: "Record the electrode voltage.",
  release_slow: "Lower the resistance or the capacitance in the path to earth.",
  release_bounce: "Look at the relay or switch that earths the clamps.",
  curve_waits: "Record the electrode voltage: the release cannot be read from this curve.",
  charge_not_accepted: "Look at the clamps’ contact and for leaks; some materials will not take the charge.",
  charging_voltage_off: "Set the source; repeat the run.",
  hold_unsteady: "Hold longer, and look whether the specimen slips.",
  hold_differs: "Check the timer of the charge.",
  hold_short: "Hold at least five times as long as the slowest part of the fall.",
  induced_not_charged: "Look at clamps and contact. It may also be a very good insulator: then no decay time can be told this way.",
  induced_unknown: "Make a run of the empty fixture at each polarity, and state the induced fraction in the bench file.",
  interrupted: "See whether a shutter closed or something touched the specimen; repeat the run.",
  crosses_again: "Look for hum, a specimen that moves, a sensor that drifts.",
  lag_large: "Use a faster sensor.",
  noise_unresolved: "Use a finer range, or let the recorder write more digits.",
  no_law: "Look at the residuals under the trace: their shape says what is missing.",
  sides_differ: "See whether a clamp slips; else conduction depends on the field, which is a property of the material.",
  first_order_unfit: "Near the end of a flat fall take the Monte Carlo interval.",
  bench_unknown: "Name a bench file in the order.",
  calibration_expired: "Have it calibrated; the bench file says which certificate.",
  bench_check_stale: "Make an opening check of the bench before the work goes on.",
  bench_check_failed: "Mend the bench and check it again; repeat the runs behind the failed check.",
  bench_check_held: "Find what changed since the opening check. Until then the result is held.",
  conditions_unknown: "Write humidity and temperature into the order.",
  conditions_outside: "Wait for the chamber to settle; repeat the run.",
  conditioning_short: "Condition longer, then repeat the run.",
  polarity_differs: "Correct the plan, or set the source and repeat the run.",
  run_missing: "Record it, or import its recording.",
  run_unplanned: "Add it to the plan, or leave it: it does not count.",
  run_repeated: "One of the two files is a copy: import the right one.",
  set_aside: "The cause stands beside it. A repeat needs a cause recorded before its result is known.",
  retested: "Nothing to mend: the cause stands beside it, the first run stays in the report.",
};

export function flagWords(code: string): FlagWords {
  const name = code.replaceAll("_", " ");
  return { name: name.charAt(0).toUpperCase() + name.slice(1), mend: mends[code] ?? "See the list of flags in the documentation." };
}

/** Every code that has words: a test compares them with docs/flags.md. */
export const flagCodes = Object.keys(mends);

/** What follows from a flag, and a sign that says so without colour. */
export const severityWords: Record<Severity, { sign: string; word: string; follows: string }> = {
  note: { sign: "·", word: "note", follows: "Noted; nothing follows." },
  warn: { sign: "!", word: "caution", follows: "The run counts; read its figures with this in mind." },
  fail_specimen: { sign: "■", word: "fails", follows: "The run counts as not meeting the requirement." },
  void_run: { sign: "○", word: "void", follows: "The run does not count." },
};

const order: Severity[] = ["void_run", "fail_specimen", "warn", "note"];
/** Gravest first. */
export function graver(one: Severity, another: Severity): number {
  return order.indexOf(one) - order.indexOf(another);
}
