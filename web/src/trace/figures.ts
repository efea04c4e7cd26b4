// The figures of a run beside its trace: decay times with what they rest on, law, both sides of the pulse, flags.

import { el, type Child } from "../el";
import type { LawModel, LevelFigure, Sides } from "../figures/answers";
import { conformity } from "../figures/conformity";
import { decayText, inWords, levelText } from "../figures/figure_words";
import { flagWords, graver, severityWords } from "../figures/flag_words";
import { fixedText, percentText, prefixedText, significantText, uncertainText } from "../figures/number_text";
import { severityMark } from "../order/flags";
import { pairs, table } from "../parts/table";
import type { RunAnswer } from "./answers";
import { trace as words } from "./words";

export function figuresOf(answer: RunAnswer, pedigree: (level: string) => void): HTMLElement {
  const { run } = answer;
  const figures = run.figures;
  return el(
    "div",
    {},
    el("p", {}, !run.counts ? el("strong", {}, `○ ${words.void_run}`) : run.fails ? el("strong", {}, `■ ${words.fails}`) : words.counts, answer.set_aside && ` ${words.set_aside(answer.set_aside)}`, answer.retest_cause && ` ${words.retest(answer.retest_cause)}`),
    figures && levelsTable(figures.levels, pedigree),
    answer.findings.length > 0 &&
      el("div", {}, el("h2", {}, words.decides), el("ul.lines", {}, ...answer.findings.map((one) => el("li", {}, conformity(one.outcome), " ", `${one.sentence}: ${one.reason}`, " ", el("span.muted", {}, `(${one.group})`))))),
    el("div.columns", {}, ownFigures(answer), el("div", {}, lawOf(answer), sidesOf(answer.sides))),
    flagsOf(answer),
  );
}

function levelsTable(levels: LevelFigure[], pedigree: (level: string) => void): HTMLElement {
  return table(
    words.levels,
    [{ head: words.level }, { head: words.level_V, number: true }, { head: words.decay }, { head: words.u95 }, { head: words.rests_on, unseen: true }],
    levels.map((one) => {
      const level = levelText(one.level, one.level_kind);
      return [
        level,
        prefixedText(one.level_V, 3, "V"),
        one.reason && one.decay_s === null ? el("span.two", {}, decayText(one), el("small.muted", {}, one.reason)) : decayText(one),
        intervalOf(one),
        el("button.quiet", { type: "button", onclick: () => pedigree(level), "aria-label": words.pedigree_of(level) }, words.rests_on, " …"),
      ];
    }),
  );
}

/** Of Monte Carlo, to the places that two digits of u reach. */
function intervalOf(one: LevelFigure): Child {
  const drawn = one.monte_carlo;
  if (!drawn || one.status !== "measured" || !(drawn.u_s > 0)) return "–";
  const places = Math.min(Math.max(1 - Math.floor(Math.log10(drawn.u_s)), 0), 12);
  return `${fixedText(drawn.low_s, places)} s to ${fixedText(drawn.high_s, places)} s`;
}

function ownFigures(answer: RunAnswer): HTMLElement {
  const figures = answer.run.figures;
  if (!figures) return el("p.empty", {}, words.no_flags);
  const share = (value: number | null): Child => (value === null ? null : percentText(value));
  return el(
    "section",
    { "aria-label": words.of_this_run },
    el("h2", {}, words.of_this_run),
    pairs([
      [words.v0, figures.initial_voltage_V === null ? null : `${uncertainText(figures.initial_voltage_V, figures.u_initial_voltage_V)} V`],
      [words.held, figures.charging_s === null ? null : words.charging(significantText(figures.charging_s, 3))],
      [words.accepted, figures.accepted_fraction === null ? null : `${percentText(figures.accepted_fraction)}${figures.accepted_charge === null ? "" : `, ${words.accepted_charge} ${percentText(figures.accepted_charge)}`}`],
      [words.prompt, share(figures.prompt_drop)],
      [words.remaining, share(figures.remaining_fraction)],
      [words.residual, figures.residual_V === null ? null : prefixedText(figures.residual_V, 2, "V")],
      [words.zero, `${uncertainText(figures.zero_V, figures.u_zero_V)} V`],
      [words.release, `${uncertainText(figures.release_s, figures.u_release_s)} s, ${words.release_by(inWords(figures.release_source))}`],
      [words.noise, prefixedText(figures.noise_V, 2, "V")],
      [words.resolution, prefixedText(figures.resolution_s, 2, "s")],
      [words.recording, el("span.two", {}, answer.recording.file, el("code.hash", {}, answer.recording.sha256))],
    ]),
  );
}

function lawOf(answer: RunAnswer): HTMLElement {
  const law = answer.run.figures?.law;
  if (!law || law.missing) return el("section", {}, el("h2", {}, words.law_heading), el("p", {}, law?.missing || words.no_law));
  const rank = (model: LawModel): number => (model.name === law.chosen ? 2 : model.aicc === null ? 0 : model.weight);
  const sorted = [...law.models].sort((a, b) => rank(b) - rank(a)).filter((model, at) => at === 0 || model.weight > 0.001).slice(0, lawsShown);
  const rows = sorted.map((model): [string, Child] => [inWords(model.name) + (model.name === law.chosen ? " ✓" : ""), model.aicc === null ? (model.outcome === "converged" ? words.not_determined : inWords(model.outcome)) : parameters(model.parameters, model.standard_errors, model.standings)]);
  return el("section", {}, el("h2", {}, words.law_heading), law.doubt && el("p", {}, law.doubt), pairs(rows));
}

const lawsShown = 4;

function parameters(values: Record<string, number>, errors: Record<string, number | null>, standings: Record<string, string>): string {
  return Object.entries(values)
    .filter(([name]) => !name.startsWith("amplitude"))
    .map(([name, value]) => {
      const unit = name.endsWith("_s") ? " s" : name.endsWith("_V") ? " V" : "";
      const symbol = name.startsWith("time_constant") ? `T${/\d/.exec(name)?.[0] ?? ""}` : inWords(name.replace(/_[sV]$/, ""));
      return standings[name] === "free" ? `${symbol} ${uncertainText(value, errors[name])}${unit}` : standings[name] === "held" ? `${symbol} ${significantText(value, 3)}${unit}` : `${symbol} ${inWords(standings[name] ?? "")}`;
    })
    .join(", ");
}

function sidesOf(sides: Sides | null): HTMLElement {
  const said = sides
    ? el(
        "p",
        {},
        words.sides_text(...twoTimes(sides)),
        " ",
        sides.agree ? words.sides_agree : words.sides_differ(uncertainText(100 * sides.difference, 100 * sides.u_difference)),
      )
    : el("p", {}, words.no_sides);
  return el("section", {}, el("h2", {}, words.sides), said);
}

/** Both times to the places that their difference is known to. */
function twoTimes(sides: Sides): [string, string] {
  const u = sides.u_difference * sides.falling_time_s;
  const places = u > 0 ? Math.min(Math.max(1 - Math.floor(Math.log10(u)), 0), 9) : 3;
  return [fixedText(sides.charging_time_s, places), fixedText(sides.falling_time_s, places)];
}

function flagsOf(answer: RunAnswer): HTMLElement {
  return el(
    "section",
    { "aria-label": words.flags },
    el("h2", {}, words.flags),
    answer.flags.length === 0
      ? el("p.muted", {}, words.no_flags)
      : el("ul.flags", {}, ...answer.flags.map((flag) => el(`li.flag.${flag.severity}`, {}, el("p", {}, severityMark(flag.severity), " ", el("strong", {}, flagWords(flag.code).name), ": ", flag.message), el("p", {}, flagWords(flag.code).mend, " ", el("span.muted", {}, severityWords[flag.severity].follows))))),
  );
}

/** What is wrong with this run and how to mend it, gravest first; or that nothing is. */
export function nextOf(answer: RunAnswer): HTMLElement {
  const serious = answer.flags.filter((flag) => graver(flag.severity, "warn") <= 0).sort((a, b) => graver(a.severity, b.severity)).slice(0, 3);
  if (serious.length === 0) return el("p", {}, words.nothing_to_mend);
  return el("ul.lines", {}, ...serious.map((flag) => el("li", {}, severityMark(flag.severity), " ", flagWords(flag.code).name, ": ", flagWords(flag.code).mend)));
}
