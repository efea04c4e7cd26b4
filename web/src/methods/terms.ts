// An order judged under other terms, beside what was agreed. Nothing is written.

import { address, get, post } from "../api";
import { el, fill, type Child } from "../el";
import { failureBox } from "../failure_box";
import type { Judgement } from "../figures/answers";
import { conformity } from "../figures/conformity";
import type { OrdersAnswer } from "../order/answers";
import { choiceField, onEdited, textField } from "../parts/form";
import { bullets, table } from "../parts/table";
import { link, type Page } from "../place";
import type { DocumentsAnswer } from "./answers";
import { methods as pageWords, terms as words } from "./words";

interface TermsJudgement extends Pick<Judgement, "statement" | "reasons" | "cautions"> {
  specification: { id: string; edition: string };
  decision_rule: string;
}

interface ComparedLine {
  of: string;
  group: string;
  agreed: string | null;
  instead: string | null;
  agreed_result: string;
  instead_result: string;
  differs: boolean;
}

interface RejudgeAnswer {
  order: string;
  revision: number;
  agreed: TermsJudgement;
  instead: TermsJudgement;
  compared: ComparedLine[];
}

export const termsPage: Page = async (place, room) => {
  room.title(words.title);
  fill(room.next, el("p", {}, words.next), el("p", {}, words.caution));
  const [{ orders }, { documents }] = await Promise.all([get<OrdersAnswer>("/api/orders", {}, room.left), get<DocumentsAnswer>("/api/specifications", {}, room.left)]);
  const readable = orders.filter((one) => !one.error && one.recorded !== 0);
  if (readable.length === 0) {
    fill(room.work, el("p.empty", {}, words.no_orders));
    return;
  }
  const order = choiceField("order", words.order, readable.map((one) => ({ value: one.key, words: `${one.id} · ${one.title}` })), { value: place.query.get("order") ?? "" });
  const specification = choiceField("specification", words.specification, [{ value: "", words: words.agreed_specification }, ...documents.map((one) => ({ value: one.id, words: one.title }))], { value: place.query.get("specification") ?? "" });
  const levels = textField("levels", words.levels, { optional: true, hint: words.levels_hint });
  const rule = choiceField("rule", words.rule, Object.entries(words.rules).map(([value, label]) => ({ value, words: label })));
  const width = textField("width", words.width, { optional: true, hint: words.width_hint });
  const answer = el("div", { "aria-live": "polite" });
  const form = el("form", { novalidate: true, onsubmit: ask }, el("div.form-grid", {}, ...[order, specification, levels, rule, width].map((one) => one.element)), el("div.buttons", {}, el("button.main", { type: "submit" }, words.judge)));
  fill(room.work, el("p", {}, el("a", { href: link("methods") }, pageWords.back)), form, answer);
  onEdited(rule, () => (width.element.hidden = rule.value() !== "own"));
  rule.input.addEventListener("change", () => (width.element.hidden = rule.value() !== "own"));
  width.element.hidden = true;

  async function ask(event: Event): Promise<void> {
    event.preventDefault();
    const ruleText = rule.value() === "own" ? `guarded:${width.value().replaceAll(" ", "")}` : rule.value();
    const widthWrong = rule.value() === "own" && !/^\d*\.?\d+(e-?\d+)?[Us]$/i.test(width.value().replaceAll(" ", ""));
    width.say(widthWrong ? words.width_wrong : "");
    if (widthWrong) {
      width.input.focus();
      return;
    }
    const asked = { ...(specification.value() ? { specification: specification.value() } : {}), ...(levels.value() ? { levels: levels.value() } : {}), ...(ruleText ? { rule: ruleText } : {}) };
    if (Object.keys(asked).length === 0) {
      fill(answer, el("p.warning", {}, words.nothing));
      return;
    }
    fill(answer, el("p.muted", {}, words.judging));
    try {
      const came = await post<RejudgeAnswer>(address("orders", order.value(), "rejudge"), asked);
      if (!room.left.aborted) fill(answer, answerOf(came));
    } catch (thrown) {
      fill(answer, failureBox(thrown));
    }
  }
};

function answerOf(came: RejudgeAnswer): HTMLElement {
  const side = (heading: string, one: TermsJudgement): HTMLElement =>
    el("section.statement", {}, el("h2", {}, heading), el("p.word", {}, conformity(one.statement)), el("p.small.muted", {}, words.under(one.specification.id, one.specification.edition, one.decision_rule)), bullets(one.reasons.slice(0, reasonsShown)));
  return el(
    "div",
    {},
    el("div.columns", {}, side(words.agreed, came.agreed), side(words.instead, came.instead)),
    table(
      words.compared,
      [{ head: words.of }, { head: words.agreed }, { head: words.change }, { head: words.instead }],
      came.compared.map((line): Child[] => [
        line.of === "statement" ? el("strong", {}, words.statement) : line.group ? el("span.two", {}, line.group, el("small.muted", {}, line.of)) : el("strong", {}, line.of),
        outcomeOf(line.agreed, line.agreed_result),
        el("span.nowrap", {}, line.differs ? words.differs : words.same),
        outcomeOf(line.instead, line.instead_result),
      ]),
    ),
  );
}

const reasonsShown = 5;

function outcomeOf(outcome: string | null, result: string): Child {
  if (outcome === null) return el("span.muted", {}, words.not_asked);
  return el("span.two", {}, conformity(outcome), result && el("small.muted", {}, result));
}
