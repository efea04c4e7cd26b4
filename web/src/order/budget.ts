// The budget of the results that decide, largest part first, with what would lessen each and what would turn the result.

import { el, svg, type Child } from "../el";
import { conformity } from "../figures/conformity";
import { inWords, resultInFull } from "../figures/figure_words";
import type { Finding } from "../figures/answers";
import { percentText, prefixedText, significantText, statedText } from "../figures/number_text";
import { bullets, table } from "../parts/table";
import type { BudgetPart, DecidingBudget, OrderAnswer } from "./answers";
import { budget as words } from "./words";

export function budgetsOf(answer: OrderAnswer): HTMLElement {
  const shown = answer.budgets.filter((one) => one.parts.length > 0 || one.advice.length > 0);
  if (shown.length === 0) return el("p.empty", {}, words.empty);
  return el("div", {}, ...shown.map((one, at) => budgetOf(one, findingOf(answer, one), at === 0)));
}

function findingOf(answer: OrderAnswer, budget: DecidingBudget): Finding | undefined {
  const requirement = answer.judgement?.requirements.find((one) => one.id === budget.requirement);
  return requirement?.findings.find((one) => one.group === budget.group);
}

function budgetOf(one: DecidingBudget, finding: Finding | undefined, open: boolean): HTMLElement {
  return el(
    "details",
    { open },
    el(
      "summary",
      {},
      el("strong", {}, `${one.requirement}: ${one.group}`),
      " ",
      finding ? resultInFull(finding) : words.no_value,
      one.limit_s !== null ? `, ${words.limit} ${statedText(one.limit_s)} s ` : " ",
      conformity(one.outcome),
    ),
    one.advice.length > 0 && el("div.advice", {}, el("h3", {}, words.advice), bullets(one.advice)),
    one.parts.length > 0 &&
      table(
        words.caption,
        [
          { head: words.source },
          { head: words.u, number: true },
          { head: words.sensitivity, number: true },
          { head: words.gives, number: true },
          { head: words.share, number: true },
          { head: words.share_drawn, unseen: true },
          { head: words.scope },
        ],
        [...one.parts].sort((a, b) => b.percent - a.percent).map((part) => lineOf(part, one.u_s)),
      ),
    el("p.small.muted", {}, words.note),
  );
}

function lineOf(part: BudgetPart, u_s: number | null): Child[] {
  return [
    el("span.two", {}, part.source, el("small.muted", {}, part.words)),
    ownUnit(part),
    sensitivityOf(part),
    contribution(Math.abs(part.share_s), u_s),
    percentText(part.percent / 100),
    svg("svg.bar", { viewBox: "0 0 100 8", "aria-hidden": "true" }, svg("rect", { width: Math.max(part.percent, 0.5), height: 8, fill: "var(--muted)" })),
    el("span.nowrap", {}, scopeWords(part.scope)),
  ];
}

function ownUnit(part: BudgetPart): string {
  return part.unit === "" || part.unit === "1" ? `${significantText(100 * part.u, 2)} %` : prefixedText(part.u, 2, part.unit);
}

function sensitivityOf(part: BudgetPart): string {
  if (part.unit === "" || part.unit === "1") return prefixedText(part.sensitivity, 2, "s");
  return part.unit === "s" ? significantText(part.sensitivity, 2) : prefixedText(part.sensitivity, 2, `s/${part.unit}`);
}

/** All lines to the place of the sum's third digit, as in the report, so that they can be added by eye. */
export function contribution(share_s: number, u_s: number | null): string {
  const places = u_s && u_s > 0 ? Math.min(Math.max(2 - Math.floor(Math.log10(u_s)), 0), 12) : 4;
  const smallest = 10 ** -places;
  return share_s > 0 && share_s < smallest / 2 ? `< ${smallest.toFixed(places)} s` : `${share_s.toFixed(places)} s`;
}

function scopeWords(scope: string): string {
  return words.scopes[scope as keyof typeof words.scopes] ?? inWords(scope);
}
