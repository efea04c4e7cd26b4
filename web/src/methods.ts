import { el, fill } from "./el";
import type { Page } from "./place";
import { methods as words } from "./words";

export const methodsPage: Page = async (_place, room) => {
  room.title(words.title);
  fill(room.work, el("p", {}, words.title));
};
