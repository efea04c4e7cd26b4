import { el, fill } from "./el";
import type { Page } from "./place";
import { today as words } from "./words";

export const todayPage: Page = async (_place, room) => {
  room.title(words.title);
  fill(room.work, el("p", {}, words.title));
};
