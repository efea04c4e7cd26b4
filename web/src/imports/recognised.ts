// One file as it was understood, its runs with their figures, and for each run whether and where it is kept.

import { el, type Child } from "../el";
import { decayText, inWords, levelText, polarityWord } from "../figures/figure_words";
import { flagWords } from "../figures/flag_words";
import { uncertainText } from "../figures/number_text";
import type { RunFigures } from "../figures/answers";
import type { PlanPlace } from "../order/answers";
import { sparkline } from "../order/plan";
import { bullets, pairs, table } from "../parts/table";
import type { ImportAnswer } from "./answers";
import { imports as words } from "./words";

export interface Chosen {
  run: string;
  place: number | null;
}

export interface Recognised {
  element: HTMLElement;
  /** The runs that are to be kept, and where. */
  chosen(): Chosen[];
}

/** `places` null: there is nothing to keep it in. `either`: the method leaves the polarity open, so any place will do. */
export function recognisedOf(answer: ImportAnswer, places: PlanPlace[] | null, either = false, changed: () => void = () => {}): Recognised {
  const rows = answer.runs.map((run) => ({ run, ...choosers(run, places, either, changed) }));
  const element = el(
    "section",
    { "aria-label": answer.name },
    el("h3", {}, answer.name),
    pairs([
      [words.format, answer.recognised.format],
      [words.read_as, answer.recognised.dialect],
      [words.channels, answer.recognised.channels.map((one) => words.channel(one.heading, inWords(one.quantity), one.unit)).join("; ")],
    ]),
    answer.notices.length > 0 && el("div", {}, el("p", {}, words.notices), bullets(answer.notices.map((one) => one.text))),
    answer.flags.length > 0 && bullets(answer.flags.map((flag) => `${flagWords(flag.code).name}: ${flag.message}`)),
    el("p", {}, words.runs(answer.runs.length)),
    rows.length > 0 &&
      table(
        answer.name,
        [{ head: words.run }, { head: words.polarity }, { head: words.v0, number: true }, { head: words.decay }, { head: words.flags }, ...(places ? [{ head: words.keep_run }, { head: words.place }] : [])],
        rows.map(({ run, keep, place }, at): Child[] => {
          const trace = answer.traces.find((one) => one.run === run.run);
          return [
            el("span.run-picture", {}, String(at + 1), trace && sparkline(trace, run.polarity === "+" ? "positive" : "negative")),
            polarityWord(run.polarity),
            run.initial_voltage_V === null ? "–" : `${uncertainText(run.initial_voltage_V, run.u_initial_voltage_V)} V`,
            el("span", {}, ...run.levels.map((level) => el("span.line", {}, `${levelText(level.level, level.level_kind)}: ${decayText(level)}`))),
            [...new Set(run.flags.map((flag) => flagWords(flag.code).name))].join(", ") || "–",
            ...(places ? [keep, place] : []),
          ];
        }),
        false,
      ),
  );
  return {
    element,
    chosen: () => rows.filter(({ keep }) => keep?.checked).map(({ run, place }) => ({ run: run.run, place: place?.value ? Number(place.value) : null })),
  };
}

/** A run goes to the next open place unless one is chosen; places of its own polarity only, where the method tells them apart. */
function choosers(run: RunFigures, places: PlanPlace[] | null, either: boolean, changed: () => void): { keep: HTMLInputElement | null; place: HTMLSelectElement | null } {
  if (!places) return { keep: null, place: null };
  const keep = el("input", { type: "checkbox", checked: true, "aria-label": words.keep_run, onchange: changed });
  const mine = places.filter((one) => one.index !== null && (either || one.polarity === run.polarity));
  const place = el(
    "select",
    { "aria-label": words.place },
    el("option", { value: "" }, words.next_open),
    ...mine.map((one) => el("option", { value: one.index as number }, one.state === "filled" ? `${one.label} (${words.filled})` : one.label)),
  );
  return { keep, place };
}
