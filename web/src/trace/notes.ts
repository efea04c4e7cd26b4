// Notes on a run: dated, signed with initials, never changed.

import { address, get, post } from "../api";
import { el, fill } from "../el";
import { failureBox } from "../failure_box";
import { instantText } from "../figures/number_text";
import { textField } from "../parts/form";
import type { Room } from "../place";
import type { Note } from "./answers";
import { trace as words } from "./words";

const keptWho = "ebbtide.who";

export function notesOf(key: string, run: string, count: number, room: Room): HTMLElement {
  const path = address("orders", key, "runs", run, "notes");
  const list = el("div", {});
  const text = textField("note", words.note, { type: "area", hint: words.note_hint });
  const who = textField("who", words.who, { value: localStorage.getItem(keptWho) ?? "" });
  const says = el("div", { role: "alert" });
  const show = (notes: Note[]): void =>
    fill(list, notes.length === 0 ? el("p.muted", {}, words.no_notes) : el("ul.lines", {}, ...notes.map((note) => el("li", {}, el("span.small.muted", {}, `${instantText(note.at)}, ${note.who}`), el("br"), note.text))));
  const load = async (): Promise<void> => {
    try {
      const { notes } = await get<{ notes: Note[] }>(path, {}, room.left);
      if (!room.left.aborted) show(notes);
    } catch (thrown) {
      if (!room.left.aborted) fill(list, failureBox(thrown));
    }
  };
  show([]);
  if (count > 0) void load();
  const form = el(
    "form",
    {
      novalidate: true,
      onsubmit: (event: Event) => {
        event.preventDefault();
        void write();
      },
    },
    text.element,
    who.element,
    says,
    el("button", { type: "submit" }, words.write),
  );
  async function write(): Promise<void> {
    text.say(text.value() ? "" : words.text_missing);
    who.say(who.value() ? "" : words.who_missing);
    if (!text.value() || !who.value()) {
      (text.value() ? who : text).input.focus();
      return;
    }
    try {
      await post(path, { who: who.value(), text: text.value() });
      localStorage.setItem(keptWho, who.value());
      text.input.value = "";
      fill(says);
      await load();
    } catch (thrown) {
      fill(says, failureBox(thrown));
    }
  }
  return el("section", { "aria-label": words.notes }, el("h2", {}, words.notes), list, el("details", {}, el("summary", {}, words.note), form));
}
