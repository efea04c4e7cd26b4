// Methods: the documents, one of them, two side by side, and an order judged under other terms.

import { documentPage } from "./methods/document";
import { listPage } from "./methods/list";
import { termsPage } from "./methods/terms";
import type { Page } from "./place";

/** #/methods, #/methods/ID?kind=specification&beside=ID, #/methods?order=KEY */
export const methodsPage: Page = (place, room) => {
  if (place.parts[0] !== undefined) return documentPage(place, room);
  return place.query.has("order") ? termsPage(place, room) : listPage(place, room);
};
