// Every word that the page says, page by page. Functions where a number or a name comes in.

export const shell = {
  name: "Ebbtide",
  rail: { today: "Today", bench: "Bench", order: "Order", materials: "Materials", methods: "Methods" },
  rail_name: "Pages",
  skip: "To the work",
  next_heading: "What to do next",
  theme: "Colours",
  themes: { system: "System", light: "Light", dark: "Dark" },
  keys: "Keys",
  keys_on: "Single-letter keys",
  keys_heading: "Keys of this page",
  keys_list: "List of keys",
  close: "Close",
  no_such_page: (page: string) => `There is no page called “${page}”`,
  no_such_page_remedy: "The five pages stand in the list at the left.",
  waiting: "Asking the program …",
  safe: "What is safe",
  remedy: "What to do",
};

export const link = {
  lost: "The link to the program is lost. The bench goes on without this page: what is recorded is kept. In danger use the source’s own switch, not this page. Trying again …",
  back: "The link is back; nothing was missed.",
};

export const errors = {
  unreachable: "The program does not answer",
  unreachable_safe: "What was recorded is on the disk. A bench that was running may still be running.",
  unreachable_remedy: "See whether `ebbtide serve` still runs in its terminal; the page tries again by itself.",
  not_let_in: "The program did not let this window in",
  not_let_in_remedy: "Open the address that `ebbtide serve` printed when it started; each start has its own.",
  nothing_changed: "Nothing was changed.",
  status: (status: number) => `The program refused (${status})`,
  try_again: "Try again; if it goes on, look at what the program printed in its terminal.",
  page_broke: (what: string) => `This page made a mistake: ${what}`,
  page_broke_safe: "The program and the bench are not touched by it.",
  page_broke_remedy: "Load the page again. Nothing is lost by that.",
};

export const when = {
  in_minutes: (n: number) => `in ${n} min`,
  in_hours: (h: number, min: number) => (min > 0 ? `in ${h} h ${min} min` : `in ${h} h`),
  in_days: (n: number) => (n === 1 ? "in 1 day" : `in ${n} days`),
};

const bench_proof = {
  check_good: "Proven",
  check_wanted: "Opening check wanted",
  check_not_asked: "No check asked for",
  good_until: "good until",
};

export const today = {
  title: "Today",
  due: "Orders due",
  due_heads: ["Order", "What", "Customer", "Due", "Recorded"],
  no_orders: "No order is waiting. When a request comes,",
  take_in: "take it in",
  no_date: "no date promised",
  days: (n: number) => (n < 0 ? `late by ${-n} ${n === -1 ? "day" : "days"}` : n === 0 ? "today" : n === 1 ? "tomorrow" : `in ${n} days`),
  progress: (done: number, all: number) => `${done} of ${all} runs`,
  conditioning: "Specimens",
  conditioning_heads: ["Specimens", "Order", "State", "Since, until"],
  conditioning_states: {
    not_begun: "Not begun",
    conditioning: "Conditioning",
    conditioned: "Conditioned",
    too_long: "Too long",
    not_asked: "Ready",
  },
  ready_at: "ready at",
  no_conditioning: "No specimen waits for its run.",
  checks: "Bench checks",
  checks_heads: ["Bench", "Standing", "Why, until"],
  no_checks: "No order with open runs names a bench.",
  ...bench_proof,
  calibrations: "Calibrations",
  calibrations_heads: ["Equipment", "Bench", "Certificate", "Due"],
  nothing_next: "Nothing is left to do here. Take in the next order, or look at the methods.",
};

export const bench = {
  title: "Bench",
  ...bench_proof,

  // Where the run stands, on every page.
  now: "At the bench now",
  phases: {
    safe: "safe",
    waiting: "waiting",
    zeroing: "zeroing",
    charging: "charging",
    holding: "holding",
    released: "released",
    recorded: "recorded",
    aborted: "aborted",
  },
  since: (s: number) => ` for ${s < 100 ? s.toFixed(1) : s.toFixed(0)} s`,
  left: (s: number) => `, ${s < 100 ? s.toFixed(1) : s.toFixed(0)} s left`,
  under: (label: string) => label,
  check_runs: "Bench check",
  met: ["✓", "holds"],
  unmet: ["○", "waited for"],
  reading: ["·", "being read"],
  asks: "The bench waits for your answer",
  pause: "Pause",
  go_on: "Go on",
  will_pause: "It will pause before the next run.",
  pause_key: "Pause before the next run, or go on",
  abort: "Abort",
  abort_key: "Abort: output off, clamps earthed, the session ends; what was recorded is kept",
  command_failed: "The program did not take the command. Use the source’s own switch now, then the earth stick.",

  // The live trace.
  chart_name: "Electrode and specimen voltage, live",
  chart_now: (specimen: number | null, electrode: number | null) => `Electrode and specimen voltage, live. Specimen ${plainVolts(specimen)}, electrode ${plainVolts(electrode)}.`,
  chart_x: "bench time, s",
  chart_y: "voltage, V",
  chart_settings: "How much is shown",
  electrode: "electrode",
  specimen: "specimen",
  accepted: "accepted",
  percent: (fraction: number) => `${Math.round(100 * fraction)} %`,
  volts: (volts: number | null) => plainVolts(volts),
  widths: { 30: "30 s", 120: "2 min", 600: "10 min", 0: "All" },
  log: "Logarithmic",
  log_key: "Linear or logarithmic",

  // The plan.
  plan: "Plan",
  plan_name: "Places of the plan, specimens down",
  plan_specimen: "Specimen",
  plan_empty: "The plan shows when the session has begun.",
  place_states: { open: "open", filled: "recorded", void: "does not count" },
  place_signs: { open: "", filled: "●", void: "○", now: "▸" },
  place_now: "now",
  place_name: (label: string, state: string) => `${label}: ${state}`,

  // Questions.
  question_name: "The bench asks",
  questions: { setup: "Before the work", mount: "Mount", leave: "The bench rests", look: "Look at the bench" },
  answers: {
    setup: [
      ["done", "That is done"],
      ["stop", "It is not: end here"],
    ],
    mount: [
      ["done", "Mounted, neutralised, door closed: go on"],
      ["skip", "Leave this place open"],
      ["stop", "End the session"],
    ],
    leave: [
      ["done", "Go on"],
      ["stop", "End the session"],
    ],
    look: [
      ["done", "Try again"],
      ["skip", "Leave this place open"],
      ["stop", "End the session"],
    ],
  } as Record<string, [string, string][]>,
  earth_first: "Earth clamps, specimen and check standard with the stick before you touch them.",

  // What is wrong.
  wrong: "What is wrong, and how to mend it",
  was_wrong: "What went wrong on the way",
  waits_for: (guard: string) => `Waiting for: ${guard}`,
  caution: "Kilovolts",
  cautions: [
    "This page is never the safety barrier: the enclosure’s interlock, the bleed resistor and the earth stick are.",
    "Specimen and check standard stay charged after the clamps are earthed. Earth them before you touch them.",
    "After a lost link or a killed program the bench may stand as it was: switch the source off by hand.",
    "Work on the bench itself is for people licensed to do it, under your local rules.",
  ],
  next_answer: "Answer the question; the bench is at rest until you do.",
  next_wait: "Wait, and watch. Abort works at any moment.",
  next_start: "Prove the bench, then start the order.",
  next_checked: "The bench is proven: start the order.",
  next_closed: "The day is closed. Source off, earth the clamps with the stick, earth the specimen, then touch.",
  next_order: "See what the runs say of the order",
  no_bench: "No order here names a bench that can be driven. Its bench file needs a table [drive], and the program an instrument or --simulated.",

  // Before a session.
  start: "Begin a session",
  at_bench: (bench: string, simulated: boolean) => (simulated ? `${bench}, simulated: nothing here is live.` : `${bench}: this bench is real, and kilovolts will be.`),
  step_who: "1  Which order, and who",
  step_check: "2  Prove the bench",
  step_start: "3  The runs",
  order: "Order",
  order_option: (id: string, title: string, open: number | null) => `${id}  ${title}${open === null ? "" : ` (${open} open)`}`,
  no_orders: "No order here can be driven. When a request comes,",
  take_in: "take it in",
  who: "Your initials",
  who_wanted: "Your initials go into the record: write them first.",
  conditions: "Conditions that hold today",
  sequence: "Sequence",
  sequences: { planned: "As planned", alternated: "Polarities by turns", randomised: "Drawn at random" },
  opening_check: "Opening check",
  closing_check: "Closing check",
  opening_check_make: "Make the opening check",
  closing_check_make: "Make the closing check",
  start_order: "Start the order",
  nothing_open: "Every place of its plan is filled. Close the day, or choose another order.",
  override: "Start without a good check",
  override_reason: "Why you answer for it",
  override_note: "Your initials and this reason go into the record and the report.",
  setup: "The laboratory’s list",
  setup_note: "Asked once a day, line by line, when a session begins.",

  // Its end.
  check_ended: "The bench check has ended",
  check_failed: "failed",
  order_done: "Every place of the plan is filled",
  order_left: (open: number) => (open === 1 ? "The session has ended; one place is open" : `The session has ended; ${open} places are open`),
  runs_of_session: (recorded: number, aborted: number) => `${recorded} recorded, ${aborted} aborted in this session.`,
  to_statement: "To the order and its statement",
  steps: "Steps of the check",
  figures: "Figures of the check",
  figure_heads: ["Figure", "Found", "Limits", "Kept"],
  figure_names: {
    zero: "zero",
    span: "span",
    linearity: "linearity",
    induced_fraction: "induced fraction",
    standard_decay: "check standard, decay time",
    standard_polarity: "check standard, one polarity over the other",
    blank_accepted: "blank, accepted",
  },
  within: "within",
  not_within: "not within",
  not_taken: "not taken",
};

/** Whole volts: a frame is no measurement. */
function plainVolts(volts: number | null): string {
  if (volts === null) return "no reading";
  const whole = Math.round(volts);
  const text = String(Math.abs(whole)).replace(/\B(?=(\d{3})+$)/g, "\u202f");
  return `${whole < 0 ? "−" : ""}${text} V`;
}

export const order = {
  title: "Order",
};

export const trace = {
  title: "Trace",
};

export const materials = {
  title: "Materials",
};

export const methods = {
  title: "Methods",
};

export const imports = {
  title: "Import",
};
