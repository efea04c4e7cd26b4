// Every word that the page says, page by page. Functions where a number or a name comes in.

export const shell = {
  name: "Ebbtide",
  rail: { today: "Today", bench: "Bench", order: "Order", materials: "Materials", methods: "Methods" },
  rail_name: "Pages",
  skip: "To the work",
  next_heading: "What to do next",
  theme: "Colours",
  themes: { system: "As the system", light: "Light", dark: "Dark" },
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

export const today = {
  title: "Today",
};

export const bench = {
  title: "Bench",
};

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

/** By the keys of the record. */
export const conformity = {
  pass: "pass",
  conditional_pass: "conditional pass",
  conditional_fail: "conditional fail",
  fail: "fail",
  void: "void",
};
