// The plan as a grid, the intake as it is typed, flags gravest first.

import assert from "node:assert/strict";
import { test } from "node:test";
import { bundled } from "./bundled.mjs";

const { gridOf, blocksOf } = await bundled("order/plan.ts");
const checks = await bundled("order/intake_checks.ts");
const { nextName } = await bundled("order/intake_rows.ts");
const { flagGroups } = await bundled("order/flags.ts");
const { matching } = await bundled("order/matching.ts");
const { decidingOf } = await bundled("order/statement.ts");
const { contribution } = await bundled("order/budget.ts");
const { hoursOf } = await bundled("order/particulars.ts");

const place = (specimen, face, polarity, replicate, conditions = "dry") => ({ specimen, face, polarity, replicate, conditions, label: "", state: "open", run: null, runs: [], index: null });

test("the plan has specimens down; face, polarity and replicate across", () => {
  const grid = gridOf([place("B", "back", "-", 1), place("B", "front", "+", 2), place("B", "front", "+", 1), place("A", "front", "-", 1)]);
  assert.deepEqual(grid.specimens, ["B", "A"]);
  assert.deepEqual(grid.columns.map((one) => `${one.face} ${one.polarity} ${one.replicate}`), ["front + 1", "front + 2", "front - 1", "back - 1"]);
  assert.ok(!grid.severalConditions);
});

test("conditions become columns only where one specimen has several", () => {
  assert.equal(gridOf([place("A", "front", "+", 1, "dry-1"), place("B", "front", "+", 1, "dry-2")]).columns.length, 1);
  assert.equal(gridOf([place("A", "front", "+", 1, "dry-1"), place("A", "front", "+", 1, "dry-2")]).columns.length, 2);
});

test("a long plan of few columns stands in blocks that hold every specimen once", () => {
  const names = Array.from({ length: 23 }, (_, i) => `S${i}`);
  for (const columns of [1, 2, 4, 12]) assert.deepEqual(blocksOf(names, columns).flat(), names);
  assert.equal(blocksOf(names, 12).length, 1);
});

const good = () => ({
  top: { id: "TP-1", title: "Sheet", "customer.name": "Quayside", "customer.address": "9 Quayside", method: "m", specification: "s", rule: "guarded", agreed: "all", tested_from: "2026-11-26", tested_to: "2026-11-27", tested_by: "TO", received: "", due: "" },
  items: [{ id: "S", description: "Sheet", lot: "", condition_on_receipt: "dry" }],
  specimens: [{ id: "A1", item: "S", direction: "", place: "", state: "as received" }],
  conditions: [{ id: "dry", relative_humidity_percent: "12.2", temperature_C: "", conditioned_from: "", conditioned_to: "" }],
});

test("an order that is whole has nothing wrong with it", () => {
  assert.equal(checks.wrongWith(good()).size, 0);
  const asked = checks.requestOf(good());
  assert.deepEqual(asked.conditions, [{ id: "dry", relative_humidity_percent: 12.2 }]);
  assert.deepEqual(asked.decision_rule, { kind: "guarded", guard_times_U: 1, agreed: "all" });
  assert.deepEqual(asked.items, [{ id: "S", description: "Sheet", condition_on_receipt: "dry" }]);
});

test("what is wrong is said by the name of its field", () => {
  const typed = good();
  typed.top.title = "";
  typed.top.tested_to = "2026-11-01";
  typed.specimens.push({ id: "A1", item: "T", state: "" });
  typed.conditions[0].relative_humidity_percent = "12,2";
  typed.conditions[0].temperature_C = "999";
  assert.deepEqual([...checks.wrongWith(typed).keys()].sort(), ["conditions.0.relative_humidity_percent", "conditions.0.temperature_C", "specimens.1.id", "specimens.1.item", "specimens.1.state", "tested_to", "title"]);
});

test("an error of the program finds its field, or none", () => {
  const names = ["id", "customer.name", "specimens.1.item"];
  assert.equal(checks.fieldOf("customer.name", names), "customer.name");
  assert.equal(checks.fieldOf("specimens[1].item", names), "specimens.1.item");
  assert.equal(checks.fieldOf("dates.tested_to", [...names, "tested_to"]), "tested_to");
  assert.equal(checks.fieldOf("method.file", [...names, "method"]), "method");
  assert.equal(checks.fieldOf("order.toml:12", names), undefined);
  assert.equal(checks.fieldOf("", names), undefined);
});

test("the next specimen is named after the last", () => {
  assert.deepEqual(["A1", "W09", "A99", "dry", ""].map(nextName), ["A2", "W10", "A100", "dry-2", ""]);
});

test("flags that void a run come before cautions and notes", () => {
  const run = (...flags) => ({ flags: flags.map(([code, severity]) => ({ code, severity, message: "" })) });
  const groups = flagGroups([run(["no_law", "note"], ["spikes", "warn"]), run(["clipped", "void_run"], ["spikes", "warn"])]);
  assert.deepEqual(groups.map((group) => [group.code, group.raised.length]), [["clipped", 1], ["spikes", 2], ["no_law", 1]]);
});

test("an order is found by any of its words, open ones first", () => {
  const line = (key, more) => ({ key, id: key, title: "", customer: "", method: "", specification: "", statement: null, materials: [], suppliers: [], issued: null, due: null, ...more });
  const orders = [line("a", { issued: "2026-01-01", customer: "Quay Cloth" }), line("b", { due: "2026-12-01", materials: ["halyard cloth"] }), line("c", { due: "2026-11-01" })];
  assert.deepEqual(matching(orders, "").map((one) => one.key), ["c", "b", "a"]);
  assert.deepEqual(matching(orders, "cloth").map((one) => one.key), ["b", "a"]);
  assert.deepEqual(matching(orders, "cloth QUAY").map((one) => one.key), ["a"]);
});

test("lines of a budget can be added by eye: all to the same place", () => {
  assert.equal(contribution(0.0092, 0.0311), "0.0092 s");
  assert.equal(contribution(0.00001, 0.0311), "< 0.0001 s");
});

test("conditioning is told in hours, with a word where it is too short", () => {
  const one = { id: "dry", conditioned_from: "2026-09-14T07:40:00Z", conditioned_to: "2026-09-15T09:05:00Z" };
  assert.equal(hoursOf(one, 24, null), "25.4 h");
  assert.match(hoursOf(one, 48, null), /outside/);
  assert.equal(hoursOf({ id: "dry" }, 24, null), "not stated");
});

test("the result that decides is the gravest, and of several the longest", () => {
  const finding = (outcome, value_s, group) => ({ outcome, value_s, group });
  assert.equal(decidingOf([finding("pass", 0.4, "a"), finding("fail", 0.6, "b"), finding("void", 9, "c"), finding("fail", 0.7, "d")]).group, "d");
  assert.equal(decidingOf([finding("pass", 0.3, "a"), finding("pass", 0.45, "b"), finding("pass", 0.4, "c")]).group, "b");
  assert.equal(decidingOf([]), undefined);
});

test("an intake tells how many places the plan will have", () => {
  assert.equal(checks.placesOf({ faces: [], replicates: 3, charging: { polarities: "both" } }, 2), 12);
  assert.equal(checks.placesOf({ faces: ["front", "back"], replicates: 1, charging: { polarities: "either" } }, 12), 24);
});
