// Order: the list of orders, the intake of a new one, and one order with its plan, results and report.

import { intakePage } from "./order/intake";
import { listPage } from "./order/list";
import { viewPage } from "./order/view";
import type { Page } from "./place";

/** #/order, #/order?new, #/order/KEY */
export const orderPage: Page = (place, room) => {
  if (place.parts[0] !== undefined) return viewPage(place, room);
  return place.query.has("new") ? intakePage(place, room) : listPage(place, room);
};
