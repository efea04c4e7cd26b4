// Results against their limits: the dot plot, and every finding with its uncertainty and the chance of a wrong decision.

import { address } from "../api";
import { el, type Child } from "../el";
import type { Finding, RequirementOutcome } from "../figures/answers";
import { conformity } from "../figures/conformity";
import { resultText } from "../figures/figure_words";
import { fixedText, probabilityText, significantText } from "../figures/number_text";
import { drawInto } from "../parts/drawing";
import { table, type Column } from "../parts/table";
import { link, type Room } from "../place";
import type { OrderAnswer } from "./answers";
import { results as words } from "./words";

export function resultsOf(answer: OrderAnswer, room: Room): HTMLElement {
  const { judgement } = answer;
  if (!judgement) return el("p.empty", {}, words.empty);
  return el("div", {}, dots(answer, room), ...judgement.requirements.map((requirement) => findingsOf(answer, requirement)));
}

/** One drawing a level; drawn anew when the width changes by much. */
function dots(answer: OrderAnswer, room: Room): HTMLElement {
  const figure = el("figure.wide", { tabindex: 0, role: "group", "aria-label": words.dots });
  const levels = answer.levels;
  const choose = el("select", { id: "dots-level", onchange: draw }, ...levels.map((level) => el("option", { value: level }, level)));
  function draw(): void {
    void drawInto(figure, address("orders", answer.key, "plot"), { what: "dots", level: choose.value }, room.left);
  }
  if (levels.length === 0) return figure;
  requestAnimationFrame(draw);
  return el("div", {}, levels.length > 1 && el("p", {}, el("label.inline", { for: "dots-level" }, words.level), " ", choose), figure);
}

function findingsOf(answer: OrderAnswer, requirement: RequirementOutcome): HTMLElement {
  const { findings } = requirement;
  const any = (key: keyof Finding): boolean => findings.some((finding) => finding[key] !== null && finding[key] !== "");
  const columns: [Column, (finding: Finding) => Child][] = [
    [{ head: words.of }, (one) => groupOf(answer, one)],
    [{ head: words.runs, number: true }, (one) => one.runs.length],
    [{ head: words.result, number: true }, (one) => resultText(one)],
    [{ head: words.expanded, number: true }, (one) => secondsOr(one.expanded_u_s)],
    [{ head: words.coverage, number: true }, (one) => (one.expanded_u_s !== null && one.u_s ? fixedText(one.expanded_u_s / one.u_s, 2) : "–")],
  ];
  if (any("guard_s")) columns.push([{ head: words.guard, number: true }, (one) => secondsOr(one.guard_s)]);
  columns.push([{ head: words.spread, number: true }, (one) => secondsOr(one.spread_s)]);
  if (any("wrong_acceptance")) columns.push([{ head: words.wrong_acceptance, number: true }, (one) => chance(one.wrong_acceptance)]);
  if (any("wrong_rejection")) columns.push([{ head: words.wrong_rejection, number: true }, (one) => chance(one.wrong_rejection)]);
  if (any("grade")) columns.push([{ head: words.grade }, (one) => one.grade || words.none]);
  columns.push([{ head: words.outcome }, (one) => conformity(one.outcome)], [{ head: words.why }, (one) => el("span.muted", {}, one.reason)]);
  return el(
    "details",
    { open: findings.length <= 16 },
    el("summary", {}, el("strong", {}, requirement.sentence), " ", conformity(requirement.outcome), " ", el("span.muted", {}, `${requirement.clause}; ${words.found(findings.length)}`)),
    table(requirement.sentence, columns.map(([column]) => column), findings.map((finding) => columns.map(([, cell]) => cell(finding))), false),
  );
}

/** The group leads to its run where it is one run. */
function groupOf(answer: OrderAnswer, finding: Finding): Child {
  const run = finding.runs.length === 1 ? answer.judgement?.runs[finding.runs[0] as number]?.run : null;
  return run ? el("a", { href: link("order", answer.key, "run", run) }, finding.group) : finding.group;
}

const secondsOr = (value: number | null): string => (value === null ? "–" : significantText(value, 2));
const chance = (value: number | null): string => (value === null ? "–" : probabilityText(value));
