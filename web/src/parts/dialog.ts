// A question over the page. The browser holds the focus inside, gives it back on closing, and closes on Escape.

import { el, type Child } from "../el";
import { dialogs as words } from "./words";

export interface Dialog {
  readonly element: HTMLDialogElement;
  close(): void;
}

/** Opens at once. `closed` is called once, however it was closed. */
export function openDialog(title: string, content: Child[], closed: () => void = () => {}): Dialog {
  const head = `dialog-${++count}`;
  const element = el(
    "dialog",
    {
      "aria-labelledby": head,
      onclose: () => {
        element.remove();
        closed();
      },
    },
    el("h2", { id: head }, title),
    ...content,
  );
  document.body.append(element);
  element.showModal();
  return { element, close: () => element.close() };
}

let count = 0;

/** A button that closes the dialog it stands in. */
export function closeButton(label: string = words.close): HTMLElement {
  return el("button", { type: "button", onclick: (event: Event) => (event.currentTarget as Element).closest("dialog")?.close() }, label);
}
