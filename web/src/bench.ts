import { el, fill } from "./el";
import type { Page } from "./place";
import { bench as words } from "./words";

export const benchPage: Page = async (_place, room) => {
  room.title(words.title);
  fill(room.work, el("p", {}, words.title));
};
