// Files dropped on the window: what was recognised is shown before anything is kept.

export { chooseFiles, takeDroppedFiles } from "./imports/dropping";
