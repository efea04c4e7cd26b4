// What orders say of their lots: the claim in plain words, why, how sure, and what more testing would buy.

import { address, get } from "../api";
import { el, fill, type Child } from "../el";
import { failureBox } from "../failure_box";
import { conformity } from "../figures/conformity";
import { fixedText, numberOf, percentText, probabilityText, significantText, statedText, unbroken } from "../figures/number_text";
import { drawInto } from "../parts/drawing";
import { choiceField, textField } from "../parts/form";
import type { OrderLine } from "../order/answers";
import { bullets, pairs, table } from "../parts/table";
import type { Page, Room } from "../place";
import type { Lot, LotBound, LotRisk, LotsAnswer } from "./answers";
import { addressOf, askAbout, type Question } from "./chooser";
import { lots as words } from "./words";

/** #/order?lots=KEY/KEY */
export const lotsPage: Page = async (place, room) => {
  room.title(words.title);
  const { query } = place;
  const history = choiceField("history", words.history, Object.entries(words.histories).map(([value, label]) => ({ value, words: label })), { value: query.get("history") ?? "", hint: words.history_hint });
  const questions = [percent("share", words.share, words.share_hint, query.get("share"), "90", 0), percent("confidence", words.confidence, words.confidence_hint, query.get("confidence"), "95", 50), { field: history, wrong: () => "", asked: () => history.value() }];
  const { keys, orders, answer } = await askAbout(place, room, "lots", words.none_chosen, questions);
  fill(room.next, el("p", {}, words.next), el("p", {}, words.next_open), keys.length > 0 && el("p", {}, el("a", { href: addressOf("compare", keys) }, words.to_compare)));
  if (!answer) return;
  const asked = { orders: keys.join("/"), share: query.get("share"), confidence: query.get("confidence") };
  try {
    const { lots } = await get<LotsAnswer>(address("lots"), { ...asked, history: query.get("history") }, room.left);
    if (!room.left.aborted) fill(answer, ...said(lots, orders, present(asked), room));
  } catch (thrown) {
    if (!room.left.aborted) fill(answer, failureBox(thrown));
  }
};

/** Typed in percent, asked as a share. */
function percent(name: string, label: string, hint: string, asked: string | null, usual: string, above: number): Question {
  const field = textField(name, label, { type: "number", hint, value: asked ? String(Number((100 * Number(asked)).toFixed(6))) : usual });
  const value = (): number | null => numberOf(field.value());
  return {
    field,
    wrong: () => ((value() ?? 0) > above && (value() ?? 100) < 100 ? "" : words.percent_wrong(above)),
    asked: () => (field.value() === usual ? "" : String(Number(((value() ?? 0) / 100).toFixed(8)))),
  };
}

const present = (query: Record<string, string | null>): Record<string, string> => Object.fromEntries(Object.entries(query).filter((one): one is [string, string] => Boolean(one[1])));

/** One lot with all that is required of it; requirements of which the same is said stand together. */
export interface SaidOfLot {
  lot: Lot;
  /** its number in the answer, from 1 */
  number: number;
  sentences: string[];
}

/** Requirements on every run and on their mean often ask the same of the lot, and then the same is said. Pure. */
export function distinct(lots: Lot[]): SaidOfLot[] {
  const said = new Map<string, SaidOfLot>();
  lots.forEach((lot, at) => {
    const same = JSON.stringify({ ...lot, requirement: "", sentence: "" });
    const before = said.get(same);
    if (before) before.sentences.push(lot.sentence);
    else said.set(same, { lot, number: at + 1, sentences: [lot.sentence] });
  });
  return [...said.values()];
}

function said(lots: Lot[], orders: OrderLine[], asked: Record<string, string>, room: Room): Child[] {
  const all = distinct(lots);
  const sections = all.map((one, at) => lotSection(one, suppliersOf(one.lot, orders), at, all.length <= openAtOnce || at === 0, asked, room));
  return [all.length > 1 && overview(all, sections), ...sections];
}

/** Of all items of the lot's orders: which of them it was is told by the order. Pure. */
export function suppliersOf(lot: Pick<Lot, "orders">, orders: Pick<OrderLine, "id" | "suppliers">[]): string[] {
  return [...new Set(orders.filter((one) => lot.orders.includes(one.id)).flatMap((one) => one.suppliers))];
}

const openAtOnce = 2;

const secondsText = (value: number): string => `${significantText(value, 3)} s`;
const shareText = (share: number): string => `${statedText(Number((100 * share).toFixed(6)))} %`;
const rangeText = (low: number | null, high: number | null, text: (value: number) => string): string => (low !== null && high !== null ? words.between(text(low), text(high)) : words.no_figure);

/** The word of a claim, with the shape of the statement that it is likest. */
function showing(lot: Lot): HTMLElement {
  const like = lot.showing === "shown" ? "pass" : lot.showing === "refuted" ? "fail" : "void";
  return conformity(like, lot.showing ? (words.showings[lot.showing] ?? lot.showing) : words.no_claim);
}

/** The time that half of the lot does not exceed. */
function typical(lot: Lot): string {
  const half = lot.quantiles.find((one) => one.share === 0.5);
  return half ? secondsText(half.decay_s) : words.no_figure;
}

function boundOf(lot: Lot): string {
  const bound = lot.tolerance.find((one) => !one.two_sided && one.share === lot.claim.share && one.upper_s !== null);
  return bound ? secondsText(bound.upper_s as number) : words.no_figure;
}

function overview(all: SaidOfLot[], sections: HTMLElement[]): HTMLElement {
  const { share, confidence } = (all[0] as SaidOfLot).lot.claim;
  const show = (at: number): void => {
    const section = sections[at]?.querySelector("details");
    if (!section) return;
    section.open = true;
    section.scrollIntoView({ block: "start" });
    section.querySelector("summary")?.focus({ preventScroll: true });
  };
  return table(
    words.overview,
    [{ head: words.lot }, { head: words.requirement }, { head: words.specimens, number: true }, { head: words.typical, number: true }, { head: words.bound_head(shareText(share), shareText(confidence)), number: true }, { head: words.over, number: true }, { head: words.claim }],
    all.map(({ lot, sentences }, at) => [
      el("button.quiet", { type: "button", onclick: () => show(at) }, lot.group),
      unbroken(sentences.join("; ")),
      lot.specimens,
      typical(lot),
      boundOf(lot),
      words.over_of(lot.over_limit, lot.specimens),
      showing(lot),
    ]),
  );
}

function lotSection({ lot, number, sentences }: SaidOfLot, suppliers: string[], at: number, open: boolean, asked: Record<string, string>, room: Room): HTMLElement {
  const [first, ...why] = lot.limit_s === null ? ["", ...lot.reasons] : lot.reasons;
  const drawings = el("div.columns.drawn", {});
  const details: HTMLDetailsElement = el(
    "details",
    { ontoggle: () => details.open && drawings.childElementCount === 0 && draw() },
    el("summary", {}, el("h2", { id: `lot-${at}` }, lot.group), " ", showing(lot)),
    el("section.statement", { "aria-labelledby": `lot-${at}` }, el("p.word", {}, showing(lot)), first && el("p", {}, `${first}.`), lot.in_plain_words && el("p.plain-words", {}, lot.in_plain_words)),
    pairs([
      [words.requirement, sentences.join("; ")],
      [words.supplier, suppliers.join(", ") || words.no_supplier],
      [words.sampling, lot.sampling_plan || words.no_plan],
      [words.orders, lot.orders.join(", ")],
    ]),
    el("h3", {}, words.why),
    bullets(why),
    drawings,
    riskOf(lot.risk),
    el("h3", {}, words.proves_not),
    bullets(lot.cautions),
    lot.left_out.length > 0 && el("details", {}, el("summary", {}, words.left_out(lot.left_out.length)), bullets(lot.left_out)),
    el("details", {}, el("summary", {}, words.figures), quantilesOf(lot), boundsOf(lot.tolerance), survivalOf(lot), lawsOf(lot)),
  );
  function draw(): void {
    const one = (what: string, name: string, note: string): HTMLElement => {
      const figure = el("figure.wide", { tabindex: 0, role: "group", "aria-label": `${name}: ${lot.group}` });
      requestAnimationFrame(() => void drawInto(figure, address("lots", "plot"), { ...asked, lot: number, what }, room.left));
      return el("div", {}, el("h3", {}, name), figure, el("p.small.muted", {}, note));
    };
    // The curve holds for times all measured.
    fill(drawings, one("probability", words.probability, words.probability_note), lot.showing && lot.measured === lot.specimens && one("operating", words.operating, words.operating_note));
  }
  details.open = open;
  return el("div.lot", {}, details);
}

function riskOf(risk: LotRisk | null): HTMLElement | null {
  if (!risk) return null;
  const { global } = risk;
  const chance = (value: number | null): Child => (value === null ? null : probabilityText(value));
  return el(
    "div",
    {},
    el("h3", {}, words.risk),
    el("p.small.muted", {}, risk.history ? words.risk_by(risk.history.source) : words.risk_without),
    pairs([
      [risk.history ? words.conforming : words.conforming_without, chance(risk.conforming)],
      [words.wrong_acceptance, risk.history && chance(risk.wrong_acceptance)],
      [words.wrong_rejection, risk.history && chance(risk.wrong_rejection)],
      [words.of_such, global && [`${probabilityText(global.consumer)} ${words.consumer}`, `${probabilityText(global.producer)} ${words.producer}`, `${probabilityText(global.open_conforming)} ${words.open_conforming}`].join(", ")],
    ]),
  );
}

function quantilesOf(lot: Lot): Child {
  if (lot.quantiles.length === 0) return null;
  return table(words.quantiles, words.quantile_heads.map((head) => ({ head, number: head !== words.quantile_heads[0] })), lot.quantiles.map((one) => [shareText(one.share), secondsText(one.decay_s), rangeText(one.low_s, one.high_s, secondsText)]));
}

function boundsOf(bounds: LotBound[]): Child {
  if (bounds.length === 0) return null;
  const text = (one: LotBound): string => (one.upper_s === null ? one.missing : one.two_sided ? rangeText(one.lower_s, one.upper_s, secondsText) : words.at_most(secondsText(one.upper_s)));
  return table(
    words.bounds,
    words.bound_heads.map((head) => ({ head })),
    bounds.map((one) => [shareText(one.share), shareText(one.confidence), one.two_sided ? words.both_sides : (words.ways[one.way] ?? one.way), one.factor === null ? words.no_figure : fixedText(one.factor, 3), text(one)]),
  );
}

function survivalOf(lot: Lot): Child {
  if (lot.kaplan_meier.length === 0) return null;
  return table(words.survival, words.survival_heads.map((head) => ({ head, number: true })), lot.kaplan_meier.map((step) => [secondsText(step.decay_s), percentText(step.survival, 0), rangeText(step.low, step.high, (share) => percentText(share, 0))]));
}

function lawsOf(lot: Lot): HTMLElement {
  const row = (name: string, law: Lot["lognormal"] | Lot["weibull"], first: string | null, second: string | null): Child[] =>
    law.aic === null
      ? [name, law.reason, "", "", ""]
      : [name, first, second, law.beyond_limit ? `${probabilityText(law.beyond_limit.estimate)} (${rangeText(law.beyond_limit.low, law.beyond_limit.high, probabilityText)})` : words.no_figure, fixedText(law.aic, 1)];
  const { mu, sigma } = lot.lognormal;
  const { scale_s, shape } = lot.weibull;
  return table(
    words.laws,
    words.law_heads.map((head) => ({ head })),
    [
      row(words.lognormal, lot.lognormal, mu === null ? null : words.mu(significantText(mu, 3)), sigma === null ? null : words.sigma(significantText(sigma, 2))),
      row(words.weibull, lot.weibull, scale_s === null ? null : words.scale(secondsText(scale_s)), shape === null ? null : words.shape(significantText(shape, 2))),
    ],
  );
}
