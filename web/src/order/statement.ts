// The statement of conformity as it stands, why, and how sure it is.

import { el, type Child } from "../el";
import type { Conformity, Finding, Judgement } from "../figures/answers";
import { conformity } from "../figures/conformity";
import { resultInFull } from "../figures/figure_words";
import { probabilityText, significantText, statedText, unbroken } from "../figures/number_text";
import { bullets, table } from "../parts/table";
import type { OrderAnswer } from "./answers";
import { statement as words } from "./words";

export function statementOf(answer: OrderAnswer): HTMLElement {
  const { judgement } = answer;
  const open = answer.places.filter((place) => place.state === "open").length;
  if (!judgement) return el("section.statement", { "aria-label": words.heading }, el("p.word", {}, words.nothing_yet), el("p", {}, words.nothing_yet_do));
  return el(
    "section.statement",
    { "aria-label": words.heading },
    el("p.word", {}, conformity(judgement.statement)),
    el("p", {}, words.said_of(answer.specification.id, answer.specification.edition), " ", open > 0 ? el("strong", {}, words.still_open(open)) : null),
    judgement.reasons.length > 0 && bullets(judgement.reasons.slice(0, reasonsShown)),
    judgement.reasons.length > reasonsShown && more(words.more_reasons(judgement.reasons.length - reasonsShown), judgement.reasons.slice(reasonsShown)),
    requirementsOf(judgement),
    judgement.cautions.length > 0 && more(words.cautions(judgement.cautions.length), judgement.cautions),
  );
}

const reasonsShown = 4;

function more(summary: string, lines: string[]): HTMLElement {
  return el("details", {}, el("summary", {}, summary), bullets(lines));
}

function requirementsOf(judgement: Judgement): Child {
  if (judgement.requirements.length === 0) return el("p", {}, words.no_requirement);
  return table(
    words.required,
    [{ head: words.requirement }, { head: words.clause }, { head: words.result }, { head: words.error, number: true }, { head: words.outcome }],
    judgement.requirements.map((requirement) => {
      const finding = decidingOf(requirement.findings);
      return [
        unbroken(requirement.sentence),
        el("span.muted", {}, requirement.clause),
        finding ? el("span.two", {}, el("span.nowrap", {}, resultInFull(finding)), el("small.muted", {}, finding.group)) : words.no_result,
        finding ? chanceOf(finding) : "–",
        conformity(requirement.outcome),
      ];
    }),
  );
}

const gravity: Record<Conformity, number> = { pass: 0, "conditional pass": 1, "conditional fail": 2, void: 3, fail: 4 };

/** The result that decides, as on the report's first page: the gravest outcome, and of several the longest time. */
export function decidingOf(findings: Finding[]): Finding | undefined {
  return findings.reduce<Finding | undefined>((decides, one) => {
    if (!decides) return one;
    const graver = gravity[one.outcome] - gravity[decides.outcome];
    return graver > 0 || (graver === 0 && (one.value_s ?? 0) > (decides.value_s ?? 0)) ? one : decides;
  }, undefined);
}

function chanceOf(finding: Finding): Child {
  if (finding.wrong_acceptance !== null) return el("span.two", {}, probabilityText(finding.wrong_acceptance), el("small.muted", {}, words.wrong_acceptance));
  if (finding.wrong_rejection !== null) return el("span.two", {}, probabilityText(finding.wrong_rejection), el("small.muted", {}, words.wrong_rejection));
  return el("span.muted", {}, words.no_chance);
}

/** "guarded: w = 1 U, agreed by ..." */
export function ruleText(rule: OrderAnswer["order"]["decision_rule"]): string {
  if (rule.kind === "simple") return words.rule_simple;
  if (rule.guard_s !== null) return words.rule_guarded(`${statedText(rule.guard_s)} s`);
  return words.rule_guarded(rule.guard_times_U === null || rule.guard_times_U === 1 ? "U" : `${significantText(rule.guard_times_U, 2)} U`);
}
