// The shell: five words at the left, the work in the middle, what to do next at the right.

import "./page.css";
import { benchPage } from "./bench";
import { benchBar } from "./bench/bar";
import { el, fill } from "./el";
import { failureBox } from "./failure_box";
import { takeDroppedFiles } from "./import";
import { boundKeys, lettersOn, onKey, setLetters } from "./keys";
import { live } from "./live";
import { materialsPage } from "./materials";
import { methodsPage } from "./methods";
import { orderPage } from "./order";
import { link, readPlace, type Page, type Place } from "./place";
import { applyTheme, setTheme, theme, type Theme } from "./theme";
import { todayPage } from "./today";
import { tracePage } from "./trace";
import { link as linkWords, shell as words } from "./words";

const rail = { today: todayPage, bench: benchPage, order: orderPage, materials: materialsPage, methods: methodsPage };
type RailName = keyof typeof rail;
const railNames = Object.keys(rail) as RailName[];

const heading = el("h1", { id: "work", tabindex: -1 });
const notice = el("div.notice", { role: "status" });
const work = el("div.work");
const next = el("div.next-work");
const railLinks = new Map(railNames.map((name) => [name, el("a", { href: link(name) }, words.rail[name])]));

document.body.append(
  el("a.skip", { href: "#work", onclick: skip }, words.skip),
  el(
    "nav.rail",
    { "aria-label": words.rail_name },
    el("p.brand", {}, words.name),
    el("ul", {}, ...[...railLinks.values()].map((one) => el("li", {}, one))),
    settings(),
  ),
  el("main", {}, notice, heading, work),
  el("aside.next", { "aria-label": words.next_heading }, benchBar, el("h2", {}, words.next_heading), next),
);

function skip(event: Event): void {
  event.preventDefault();
  heading.focus();
}

function settings(): HTMLElement {
  const chosen = theme();
  const themes = el(
    "select",
    { id: "theme", "aria-label": words.theme, onchange: () => setTheme(themes.value as Theme) },
    ...(Object.keys(words.themes) as Theme[]).map((name) => el("option", { value: name, selected: name === chosen }, words.themes[name])),
  );
  const letters = el("input", { type: "checkbox", id: "letters", checked: lettersOn(), onchange: () => setLetters(letters.checked) });
  return el(
    "div.settings",
    {},
    el("label", { for: "theme" }, words.theme),
    themes,
    el("label", { for: "letters" }, letters, words.keys_on),
    el("button.quiet", { type: "button", onclick: showKeys }, words.keys_list, " ", el("kbd", {}, "?")),
  );
}

function showKeys(): void {
  const dialog = el(
    "dialog",
    { "aria-label": words.keys_heading, onclose: () => dialog.remove() },
    el("h2", {}, words.keys_heading),
    el("dl.keys", {}, ...boundKeys().flatMap((one) => [el("dt", {}, el("kbd", {}, one.key === "Escape" ? "Esc" : one.key.toUpperCase())), el("dd", {}, one.words)])),
    el("form", { method: "dialog" }, el("button", {}, words.close)),
  );
  document.body.append(dialog);
  dialog.showModal();
}

let leave: (() => void) | undefined;
let leaving = new AbortController();

function pageOf(place: Place): Page | undefined {
  if (place.page === "order" && place.parts[1] === "run") return tracePage;
  return Object.hasOwn(rail, place.page) ? rail[place.page as RailName] : undefined;
}

async function enter(): Promise<void> {
  leaving.abort();
  leaving = new AbortController();
  const { signal } = leaving;
  leave?.();
  leave = undefined;
  const place = readPlace(location.hash);
  const page = pageOf(place);
  for (const [name, one] of railLinks) {
    if (name === place.page) one.setAttribute("aria-current", "page");
    else one.removeAttribute("aria-current");
  }
  // A page writes into a room of its own: one that was left and answers late writes where nobody looks.
  const room = { work: el("div"), next: el("div"), title, left: signal };
  fill(work, room.work);
  fill(next, room.next);
  function title(text: string): void {
    if (signal.aborted) return;
    heading.textContent = text;
    document.title = `${text} · ${words.name}`;
  }
  if (!page) {
    title(words.no_such_page(place.page));
    fill(room.work, el("p", {}, words.no_such_page_remedy));
    return;
  }
  fill(room.work, el("p.waiting", {}, words.waiting));
  try {
    const done = await page(place, room);
    if (!done) return;
    if (signal.aborted) done();
    else leave = done;
  } catch (thrown) {
    if (!signal.aborted) fill(room.work, failureBox(thrown));
  }
}

let wasLost = false;
live.onChange(() => {
  document.body.classList.toggle("link-lost", live.link === "lost");
  if (live.link === "lost") {
    if (!wasLost) fill(notice, el("p.warning", {}, linkWords.lost));
    wasLost = true;
  } else if (live.link === "open" && wasLost) {
    wasLost = false;
    fill(notice, el("p", {}, linkWords.back));
    setTimeout(() => wasLost || fill(notice), 6000);
  }
});

applyTheme();
onKey("?", words.keys_list, showKeys);
takeDroppedFiles();
addEventListener("hashchange", () => {
  void enter();
  heading.focus();
});
live.start();
void enter();
