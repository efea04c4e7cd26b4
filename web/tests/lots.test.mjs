// Orders taken together, and the clock of a phase: without a browser.

import assert from "node:assert/strict";
import { test } from "node:test";
import { bundled } from "./bundled.mjs";

const { distinct, suppliersOf } = await bundled("lots/lots.ts");
const { addressOf, keysOf } = await bundled("lots/chooser.ts");
const { phaseClock } = await bundled("bench/phase_clock.ts");

test("an address holds the keys of any orders, and gives them back", () => {
  const keys = ["halyard-cloth", "a & b = c", "50 % #1"];
  const address = addressOf("lots", keys, { share: "0.8", history: "" });
  const query = new URLSearchParams(address.split("?")[1]);
  assert.deepEqual(keysOf(query.get("lots")), keys);
  assert.deepEqual([query.get("share"), query.get("history")], ["0.8", null]);
  assert.deepEqual(keysOf("a//b/a/"), ["a", "b"]);
});

test("requirements of which the same is said of a lot stand together, others do not", () => {
  const lot = (group, requirement, limit_s) => ({ group, requirement, sentence: `${requirement} asks`, limit_s, reasons: [] });
  const said = distinct([lot("warp", "mean", 0.5), lot("filling", "mean", 0.5), lot("warp", "each", 0.5), lot("warp", "strict", 0.4)]);
  assert.deepEqual(said.map((one) => [one.lot.group, one.number, one.sentences]), [
    ["warp", 1, ["mean asks", "each asks"]],
    ["filling", 2, ["mean asks"]],
    ["warp", 4, ["strict asks"]],
  ]);
});

test("a lot names the suppliers of its orders' items once each", () => {
  const orders = [{ id: "A", suppliers: ["Mill"] }, { id: "B", suppliers: ["Mill", "Weaver"] }, { id: "C", suppliers: ["Dyer"] }];
  assert.deepEqual(suppliersOf({ orders: ["A", "B"] }, orders), ["Mill", "Weaver"]);
  assert.deepEqual(suppliersOf({ orders: ["D"] }, orders), []);
});

test("a phase says what is left of it where that is set, else how long it goes on", () => {
  assert.equal(phaseClock(1.5, 10), ", 8.5 s left");
  assert.equal(phaseClock(10.2, 10), " for 10.2 s", "it takes longer than it should");
  assert.equal(phaseClock(3.25, null), " for 3.3 s");
  assert.equal(phaseClock(-0.1, 10), "", "the samples of the phase have not come yet");
});
