// Keys that work anywhere on the page. Single letters can be switched off (WCAG 2.2, 2.1.4), Escape and ? cannot hurt.

interface Bound {
  key: string;
  words: string;
  act: () => void;
}

const bound: Bound[] = [];
const kept = "ebbtide.keys";

export function lettersOn(): boolean {
  return localStorage.getItem(kept) !== "off";
}
export function setLetters(on: boolean): void {
  localStorage.setItem(kept, on ? "on" : "off");
}

/** Binds a key until the answer is called. `key` as in KeyboardEvent.key, letters small. The last one bound wins. */
export function onKey(key: string, words: string, act: () => void): () => void {
  const entry = { key, words, act };
  bound.push(entry);
  return () => {
    const at = bound.indexOf(entry);
    if (at >= 0) bound.splice(at, 1);
  };
}

/** What is bound now, for the list that ? shows. */
export function boundKeys(): readonly Bound[] {
  return bound;
}

function typing(target: EventTarget | null): boolean {
  return target instanceof HTMLInputElement || target instanceof HTMLTextAreaElement || target instanceof HTMLSelectElement;
}

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.defaultPrevented) return;
  const letter = event.key.length === 1;
  if (letter && (typing(event.target) || !lettersOn() || document.querySelector("dialog[open]"))) return;
  const entry = bound.findLast((one) => one.key === (letter ? event.key.toLowerCase() : event.key));
  if (!entry) return;
  event.preventDefault();
  entry.act();
});
