// Documents as rows, two of them compared, and what a prediction and a trend may say in digits.

import assert from "node:assert/strict";
import { test } from "node:test";
import { bundled } from "./bundled.mjs";

const { rowsOf, compared } = await bundled("methods/flat.ts");
const { errorFactor, meanText } = await bundled("materials/trend_drawing.ts");

const method = (hold_s, more = {}) => ({
  id: "m",
  edition: "1",
  charging: { voltage_V: { nominal: 5000, plus_minus: 100 }, hold_s, minimum_initial_V: null },
  decay: { levels: [{ kind: "fraction", text: "10 %", value: 0.1 }, { kind: "fraction", text: "1/e", value: 0.36787944117144233 }], extrapolation_allowed: false },
  value_sources: { "charging.hold_s": "4.5" },
  ...more,
});

test("a document reads as name, value with unit, and clause", () => {
  const rows = rowsOf(method(20));
  assert.deepEqual(rows, [
    { name: "charging, voltage", value: "5000 V ± 100 V", clause: "" },
    { name: "charging, hold", value: "20 s", clause: "4.5" },
    { name: "decay, levels", value: "10 %, 1/e", clause: "" },
    { name: "decay, extrapolation allowed", value: "no", clause: "" },
  ]);
});

test("what differs comes first, with a sign that needs no colour", () => {
  const rows = compared(rowsOf(method(20)), rowsOf(method(10, { replicates: 3 })));
  assert.deepEqual(rows.map((row) => [row.sign, row.name]), [
    ["≠", "charging, hold"],
    ["−", "replicates"],
    ["=", "charging, voltage"],
    ["=", "decay, levels"],
    ["=", "decay, extrapolation allowed"],
  ]);
  assert.ok(compared(rowsOf(method(20)), rowsOf(method(20))).every((row) => row.sign === "="));
});

test("requirements of a specification stand under their own names", () => {
  const rows = rowsOf({ demands: [{ any_of: [{ id: "3.10-average", level: { kind: "fraction", text: "10 %", value: 0.1 }, comparison: "<=", limit_s: 0.5, classes: [] }] }] });
  assert.ok(rows.some((row) => row.name.includes("3.10-average") && row.name.endsWith("limit") && row.value === "0.5 s"));
});

test("the mean of a period has the digits that its standard error leaves", () => {
  const period = { times: 9, mean_s: 0.31234, spread_factor: Math.exp(0.3), shortest_s: 0.2, longest_s: 0.5, longer: 0, shorter: 0 };
  assert.ok(Math.abs(errorFactor(period) - Math.exp(0.1)) < 1e-12);
  assert.equal(meanText(period), "0.312");
  assert.equal(meanText({ ...period, times: 1, spread_factor: null }), "0.31");
  assert.equal(meanText({ ...period, mean_s: null }), "–");
});
