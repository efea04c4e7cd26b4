// Bench: the live trace, the plan filling in, the question of the moment; before a session what it takes to begin one.

import { address, get, post } from "./api";
import { checkFigures, endOfSession } from "./bench/end";
import { startPanel } from "./bench/start";
import { story } from "./bench/story";
import { el, fill } from "./el";
import { failureBox } from "./failure_box";
import { flagWords } from "./figures/flag_words";
import { live } from "./live";
import { liveChart } from "./bench/live_chart";
import { link, type Page } from "./place";
import { planGrid } from "./bench/plan_grid";
import { bench as words } from "./words";

/** What a run waits for passes by itself, mostly; when it stands so long, the page says what would mend it. */
const stands_ms = 3000;
/** Nobody has read a question within this. */
const unread_ms = 400;

export const benchPage: Page = async (place, room) => {
  room.title(words.title);
  const sessionKey = (): string | null => live.bench?.session?.key ?? null;
  const question = el("div", {});
  const trace = liveChart();
  const grid = planGrid(sessionKey);
  const steps = el("section", {});
  const ended = el("div", {});
  const session = el("div", {}, question, trace.element, grid.element, steps);
  const start = startPanel(place.query.get("order"));
  fill(room.work, ended, start.element, session);

  let asked = 0;
  let levelsOf: string | null = null;
  let endShown: unknown = null;
  function update(): void {
    const running = story.running;
    session.hidden = !running && story.frames.empty;
    start.element.hidden = running;
    if (!running) start.refresh();
    if (endShown !== story.ended) {
      endShown = story.ended;
      if (story.ended) start.reload();
      fill(ended, ...(story.ended ? [endOfSession(story.ended, sessionKey(), story.checked)] : []));
    }
    grid.element.hidden = (live.bench?.session?.kind ?? "order") !== "order" || (story.places.length === 0 && !running);
    fill(steps, ...checkFigures(story));
    ask();
    aside();
    void levels();
  }

  function ask(): void {
    const { question: now } = story;
    if (!now || !story.running) {
      asked = 0;
      if (question.childElementCount > 0) fill(question);
      return;
    }
    if (asked === now.number) return;
    asked = now.number;
    const shown = performance.now();
    const wrong = el("div", {});
    // A step of a check cannot be left out: then it is no check.
    const answers = (words.answers[now.kind] ?? []).filter(([answer]) => answer !== "skip" || live.bench?.session?.kind !== "check");
    const card = el(
      "section.question",
      { "aria-label": words.question_name, tabindex: -1 },
      el("h2", {}, words.questions[now.kind] ?? words.question_name),
      el("p", {}, now.words),
      now.kind === "mount" && el("p.muted", {}, words.earth_first),
      el(
        "div.buttons",
        {},
        ...answers.map(([answer, label], at) => el(at === 0 ? "button.main" : "button", { type: "button", onclick: () => void send(answer) }, label)),
      ),
      wrong,
    );
    async function send(answer: string): Promise<void> {
      // One question may follow another at once: a double click answers only the first.
      if (performance.now() - shown < unread_ms) return;
      for (const button of card.querySelectorAll("button")) button.disabled = true;
      try {
        await post(address("bench", "answer"), { question: now?.number, answer });
      } catch (thrown) {
        for (const button of card.querySelectorAll("button")) button.disabled = false;
        fill(wrong, failureBox(thrown));
      }
      live.refresh();
    }
    fill(question, card);
    // Heard by a screen reader, one Tab away from the answer, and never answered by a key that was meant for something else.
    const { activeElement } = document;
    if (!activeElement || activeElement === document.body || session.contains(activeElement) || activeElement.tagName === "H1") card.focus();
  }

  function aside(): void {
    const troubles = story.troubles.toReversed();
    const stands = story.running && Date.now() - story.guards_since_ms > stands_ms;
    const mends = stands ? story.guards.filter((one) => one.met === false && one.remedy) : [];
    const flags = story.lastRun?.flags.filter((flag) => flag.severity !== "note") ?? [];
    fill(
      room.next,
      el("p", {}, next()),
      (mends.length > 0 || troubles.length > 0 || flags.length > 0) && el("h2", {}, story.running ? words.wrong : words.was_wrong),
      el(
        "ul.troubles",
        {},
        ...mends.map((one) => el("li", {}, el("p", {}, words.waits_for(one.words)), el("p.mend", {}, one.remedy))),
        ...flags.map((flag) => el("li", {}, el("p", {}, `${story.lastRun?.label}: ${flag.message}`), el("p.mend", {}, flagWords(flag.code).mend))),
        ...troubles.slice(0, 6).map((one) => el(one.grave ? "li.grave" : "li", {}, el("p", {}, one.what), one.mend && el("p.mend", {}, one.mend))),
      ),
      ...story.said.map((text) => el("p.small.muted", {}, text)),
      el("h2", {}, words.caution),
      ...words.cautions.map((text) => el("p.small", {}, text)),
    );
  }

  function next(): HTMLElement | string {
    if (story.running) return story.question ? words.next_answer : words.next_wait;
    if (story.ended?.kind === "check" && story.checked?.good) return story.checked.closing ? words.next_closed : words.next_checked;
    if (story.ended?.kind === "order" && sessionKey()) return el("a", { href: link("order", sessionKey() ?? "") }, words.next_order);
    return live.bench && live.bench.benches.length === 0 ? words.no_bench : words.next_start;
  }

  /** The levels that the order's requirements ask for. */
  async function levels(): Promise<void> {
    const key = sessionKey();
    if (!key || key === levelsOf || live.bench?.session?.kind !== "order") return;
    levelsOf = key;
    try {
      const order = await get<{ levels: string[] }>(address("orders", key), {}, room.left);
      trace.setLevels(order.levels.flatMap((text) => fractionOf(text)));
    } catch {
      // A picture without levels.
    }
  }

  const takeAway = [story.onChange((frame) => frame || update()), live.onChange(update)];
  update();
  const again = setInterval(aside, stands_ms);
  return () => {
    clearInterval(again);
    for (const one of takeAway) one();
    trace.close();
    grid.close();
    start.close();
  };
};

function fractionOf(text: string): { fraction: number; words: string }[] {
  if (text === "1/e") return [{ fraction: Math.exp(-1), words: text }];
  const percent = /^([\d.]+) ?%$/.exec(text)?.[1];
  return percent ? [{ fraction: Number(percent) / 100, words: text }] : [];
}
