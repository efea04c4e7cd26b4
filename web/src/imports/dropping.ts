// Files dropped anywhere on the window.

import { el } from "../el";
import { openImport } from "./dialog";
import { imports as words } from "./words";

/** Called once; the whole window takes files from then on. */
export function takeDroppedFiles(): void {
  const veil = el("div.drop-veil", { "aria-hidden": "true", hidden: true }, el("p", {}, words.drop));
  document.body.append(veil);
  let inside = 0;
  const holdsFiles = (event: DragEvent): boolean => [...(event.dataTransfer?.types ?? [])].includes("Files");
  const show = (on: boolean): void => {
    veil.hidden = !on;
    if (!on) inside = 0;
  };
  addEventListener("dragenter", (event) => {
    if (!holdsFiles(event)) return;
    event.preventDefault();
    ++inside;
    show(true);
  });
  addEventListener("dragleave", (event) => holdsFiles(event) && --inside <= 0 && show(false));
  addEventListener("dragover", (event) => holdsFiles(event) && event.preventDefault());
  addEventListener("drop", (event) => {
    if (!holdsFiles(event)) return;
    event.preventDefault();
    show(false);
    const files = [...(event.dataTransfer?.files ?? [])];
    if (files.length > 0) void openImport(files);
  });
}

/** The same for the keyboard: the browser's own dialog for files. */
export function chooseFiles(order?: string): void {
  const input = el("input", { type: "file", multiple: true });
  input.addEventListener("change", () => input.files && input.files.length > 0 && void openImport([...input.files], order));
  input.click();
}
