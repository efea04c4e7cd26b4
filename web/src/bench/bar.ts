// Where the run stands, and how to stop it: on every page, at the same place, as long as a session goes on.

import { address, post } from "../api";
import { phaseClock } from "./phase_clock";
import { story } from "./story";
import { el, fill } from "../el";
import { failureBox } from "../failure_box";
import { onKey } from "../keys";
import { live } from "../live";
import { link } from "../place";
import { bench as words } from "../words";

const phase = el("p.phase", {});
const guards = el("ul.guards", {});
const heading = el("h2", {}, words.now);
const said = el("p.unseen", { role: "status" });
const wrong = el("div", {});
const clock = el("span.clock", {});
const place = el("p.muted", {});
const question = el("p", {});
const pauseButton = el("button", { type: "button", onclick: () => void pause() });
const abortButton = el("button.stop", { type: "button", onclick: () => void abort() }, words.abort, " ", el("kbd", {}, "Esc"));

export const benchBar = el("section.bench-bar", { "aria-label": words.now, hidden: true }, heading, phase, place, guards, question, el("div.buttons", {}, pauseButton, abortButton), said, wrong);

async function command(what: "pause" | "abort", body: object): Promise<void> {
  try {
    await post(address("bench", what), body);
    fill(wrong);
  } catch (thrown) {
    // The person pressed to make it safe: say at once that the page did not.
    fill(wrong, el("p.warning", {}, words.command_failed), failureBox(thrown));
  }
  live.refresh();
}
const pause = (): Promise<void> => command("pause", { paused: !live.bench?.session?.paused });
const abort = (): Promise<void> => command("abort", {});

let unbind: (() => void)[] = [];
let saidPhase = "";

function update(): void {
  const { running } = story;
  if (running !== !benchBar.hidden) {
    benchBar.hidden = !running;
    document.body.classList.toggle("bench-runs", running);
    for (const one of unbind) one();
    unbind = running ? [onKey("p", words.pause_key, () => void pause()), onKey("Escape", words.abort_key, () => void abort())] : [];
    if (!running) fill(wrong);
  }
  if (!running) return;
  const session = live.bench?.session;
  const name = words.phases[story.phase as keyof typeof words.phases] ?? story.phase;
  fill(phase, el("strong", {}, name), clock);
  fill(place, story.under ? words.under(story.under.label) : session?.kind === "check" ? words.check_runs : null);
  fill(
    guards,
    ...story.guards.map((one) => {
      const [sign, word] = one.met === null ? words.reading : one.met ? words.met : words.unmet;
      return el(`li.${one.met === false ? "unmet" : "met"}`, {}, el("span.sign", { "aria-hidden": "true" }, sign), el("span.unseen", {}, `${word}: `), one.words);
    }),
  );
  const asks = story.question !== null;
  fill(question, asks ? el("a", { href: link("bench") }, words.asks) : session?.paused ? words.will_pause : null);
  fill(pauseButton, session?.paused ? words.go_on : words.pause, " ", el("kbd", {}, "P"));
  if (story.phase !== saidPhase) {
    saidPhase = story.phase;
    said.textContent = name;
  }
  tick();
}

function tick(): void {
  // After an abort no samples come, and their clock stands.
  clock.textContent = story.frames.empty || story.phase === "aborted" ? "" : phaseClock(story.frames.to_s - story.phase_from_s, story.phase_lasts_s);
}

let asked = false;
story.onChange((frame) => {
  if (!frame) return update();
  if (asked) return;
  asked = true;
  requestAnimationFrame(() => {
    asked = false;
    tick();
  });
});
