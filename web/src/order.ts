// Order: the list of orders, the intake of a new one, one order with its plan, results and report, and what several say together.

import { comparePage } from "./lots/compare";
import { lotsPage } from "./lots/lots";
import { intakePage } from "./order/intake";
import { listPage } from "./order/list";
import { viewPage } from "./order/view";
import type { Page } from "./place";

/** #/order, #/order?new, #/order?lots=KEY/KEY, #/order?compare=KEY/KEY, #/order/KEY */
export const orderPage: Page = (place, room) => {
  if (place.parts[0] !== undefined) return viewPage(place, room);
  const { query } = place;
  return (query.has("new") ? intakePage : query.has("lots") ? lotsPage : query.has("compare") ? comparePage : listPage)(place, room);
};
