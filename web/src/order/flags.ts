// Flags of the runs, gravest first: what was seen, what follows, how to mend it, and which runs carry it.

import { el } from "../el";
import type { Flag, JudgedRun } from "../figures/answers";
import { flagWords, graver, severityWords } from "../figures/flag_words";
import { link } from "../place";
import type { OrderAnswer } from "./answers";
import { flags as words } from "./words";

export interface FlagGroup {
  code: string;
  severity: Flag["severity"];
  raised: { run: JudgedRun; message: string }[];
}

/** One group a code and severity, gravest first, then the commonest. */
export function flagGroups(runs: JudgedRun[]): FlagGroup[] {
  const groups = new Map<string, FlagGroup>();
  for (const run of runs) {
    for (const flag of run.flags) {
      const name = `${flag.severity} ${flag.code}`;
      const group = groups.get(name) ?? { code: flag.code, severity: flag.severity, raised: [] };
      group.raised.push({ run, message: flag.message });
      groups.set(name, group);
    }
  }
  return [...groups.values()].sort((a, b) => graver(a.severity, b.severity) || b.raised.length - a.raised.length);
}

export function flagsOf(answer: OrderAnswer): HTMLElement {
  const groups = flagGroups(answer.judgement?.runs ?? []);
  if (groups.length === 0) return el("p.empty", {}, answer.judgement ? words.none : words.no_runs);
  return el("ul.flags", {}, ...groups.map((group) => groupOf(answer.key, group)));
}

function groupOf(key: string, group: FlagGroup): HTMLElement {
  const about = flagWords(group.code);
  return el(
    `li.flag.${group.severity}`,
    {},
    el("p", {}, severityMark(group.severity), " ", el("strong", {}, about.name), " ", el("span.muted", {}, words.on(group.raised.length))),
    el("p", {}, el("span.muted", {}, words.mend), " ", about.mend, " ", el("span.muted", {}, severityWords[group.severity].follows)),
    el(
      "details",
      {},
      el("summary", {}, words.which),
      el("ul.lines", {}, ...group.raised.map(({ run, message }) => el("li", {}, run.run ? el("a", { href: link("order", key, "run", run.run) }, run.label) : run.label, ": ", message))),
    ),
  );
}

/** A sign and a word: "○ void". */
export function severityMark(severity: Flag["severity"]): HTMLElement {
  const { sign, word } = severityWords[severity];
  return el(`span.severity.${severity}`, {}, el("span.sign", { "aria-hidden": "true" }, sign), " ", word);
}
