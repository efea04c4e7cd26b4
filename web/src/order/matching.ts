// Which orders a person means by what was typed. Pure.

import type { OrderLine } from "./answers";

/** Every word typed must stand somewhere in the line. Those not yet issued first, the first due first. */
export function matching(orders: OrderLine[], typed: string): OrderLine[] {
  const wanted = typed.toLowerCase().split(/\s+/).filter(Boolean);
  const text = (one: OrderLine): string =>
    [one.key, one.id, one.title, one.customer, one.method, one.specification, one.statement ?? "", ...one.materials, ...one.suppliers].join(" ").toLowerCase();
  const rank = (one: OrderLine): string => (one.issued ? `2${one.issued}` : `1${one.due ?? "9"}`) + one.key;
  return orders.filter((one) => wanted.every((word) => text(one).includes(word))).sort((a, b) => (rank(a) < rank(b) ? -1 : 1));
}
