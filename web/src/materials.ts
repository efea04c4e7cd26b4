// Materials: what the ledger knows of them, how they went over the years, and what resistivity a limit asks for.

import { listPage } from "./materials/list";
import { predictPage } from "./materials/predict";
import { trendPage } from "./materials/trend";
import type { Page } from "./place";

/** #/materials, #/materials?predict, #/materials/NAME */
export const materialsPage: Page = (place, room) => {
  if (place.parts[0] !== undefined) return trendPage(place, room);
  return place.query.has("predict") ? predictPage(place, room) : listPage(place, room);
};
