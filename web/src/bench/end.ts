// What a session came to: its end in words, and of a bench check each figure between its limits.

import type { CheckFigure } from "./state";
import type { BenchStory, EndSeen } from "./story";
import { el } from "../el";
import { significantText } from "../figures/number_text";
import { link } from "../place";
import { instant } from "../when";
import { bench as words } from "../words";

export function endOfSession(end: EndSeen, key: string | null, checked: BenchStory["checked"]): HTMLElement {
  const check = checked ? `${words.check_ended}: ${checked.good ? words.check_good : words.check_failed}` : words.check_ended;
  return el(
    "section.ended",
    { role: "status" },
    el("h2", {}, end.kind === "check" ? check : end.done ? words.order_done : words.order_left(end.open)),
    end.words && el("p", {}, end.words),
    end.kind === "order" && el("p", {}, words.runs_of_session(end.recorded, end.aborted)),
    end.may_be_live && el("p.warning", { role: "alert" }, end.may_be_live),
    end.kind === "order" && key && el("p", {}, el("a", { href: link("order", key) }, words.to_statement)),
  );
}

export function checkFigures(story: BenchStory): HTMLElement[] {
  const out: HTMLElement[] = [];
  if (story.steps.length > 0 && !story.checked) {
    out.push(el("h2", {}, words.steps), el("ol.lines", {}, ...story.steps.map((one) => el("li", {}, one.step, one.words && `: ${one.words}`))));
  }
  const { checked } = story;
  if (!checked) return out;
  out.push(
    el("h2", {}, checked.closing ? words.closing_check : words.opening_check, ": ", checked.good ? words.check_good : words.check_failed),
    el("p", {}, checked.good && checked.good_until ? el("span", {}, words.good_until, " ", instant(checked.good_until)) : checked.reason),
    el(
      "div.wide",
      { tabindex: 0, role: "region", "aria-label": words.figures },
      el(
        "table",
        {},
        el("thead", {}, el("tr", {}, ...words.figure_heads.map((head, at) => el(at === 0 || at === 3 ? "th" : "th.number", { scope: "col" }, head)))),
        el("tbody", {}, ...checked.figures.map(row)),
      ),
    ),
  );
  return out;
}

function row(one: CheckFigure): HTMLElement {
  const name = words.figure_names[one.name as keyof typeof words.figure_names] ?? one.name.replaceAll("_", " ");
  const unit = one.unit ? ` ${one.unit}` : "";
  const sign = one.polarity === "-" ? " −" : one.polarity === "+" ? " +" : "";
  return el(
    "tr",
    {},
    el("th", { scope: "row" }, name, sign),
    el("td.number", {}, one.value === null ? words.not_taken : significantText(one.value, 4) + unit),
    el("td.number", {}, `${significantText(one.least, 3)} … ${significantText(one.most, 3)}${unit}`),
    el("td", {}, el(one.within ? "span" : "strong", {}, one.within ? words.within : words.not_within)),
  );
}
