// Numbers and statements as the page writes them: the same text as the report, never more digits than the uncertainty carries.

import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { test } from "node:test";
import { bundled } from "./bundled.mjs";

const n = await bundled("figures/number_text.ts");
const words = await bundled("figures/figure_words.ts");
const flags = await bundled("figures/flag_words.ts");
const { shapeOf } = await bundled("figures/conformity.ts");
const { Scale } = await bundled("figures/scale.ts");

const level = (more) => ({ level: 0.1, level_kind: "fraction", status: "measured", decay_s: null, u_decay_s: null, last_crossing_s: null, at_least_s: null, at_most_s: null, extrapolated: null, ...more });

test("the uncertainty stands in brackets behind the last digits", () => {
  // JCGM 100:2008, 7.2.2: m = 100.02147(35) g with u = 0.35 mg.
  assert.equal(n.uncertainText(100.02147, 0.00035), "100.02147(35)");
  // CODATA 2018: atomic mass constant 1.66053906660(50), in 1e-27 kg.
  assert.equal(n.uncertainText(1.6605390666, 0.0000000005), "1.66053906660(50)");
  // The rest is what src/basis/number_text.hpp promises of the report.
  assert.equal(n.uncertainText(0.5123, 0.0031), "0.5123(31)");
  assert.equal(n.uncertainText(12.3, 1.4), "12.3(1.4)");
  assert.equal(n.uncertainText(123.4, 14), "123(14)");
  assert.equal(n.uncertainText(1, 0.0998), "1.00(10)");
  assert.equal(n.uncertainText(0.1, 1.2), "0.1 ± 1.2");
  assert.equal(n.uncertainText(0.5, null), "0.5000");
  assert.equal(n.plusMinusText(0.47, 0.04, "s"), "0.470 s ± 0.040 s");
});

test("no text carries more digits than two of its uncertainty", () => {
  let seed = 1;
  const draw = () => (seed = (seed * 48271) % 2147483647) / 2147483647;
  for (let trial = 0; trial < 5000; ++trial) {
    const u = 10 ** (8 * draw() - 6);
    const value = u * 10 ** (4 * draw()) * (draw() < 0.5 ? -1 : 1);
    const text = n.uncertainText(value, u);
    const [shown] = text.replace("−", "-").split(/\(| ±/);
    const places = shown.split(".")[1]?.length ?? 0;
    assert.ok(u >= 9.4 * 10 ** -places * 0.999 || places === 0, `${value} u ${u}: ${text}`);
    assert.ok(Math.abs(Number(shown) - value) <= 0.5 * 10 ** -places * 1.0001, `${value} u ${u}: ${text}`);
  }
});

test("halves go to the even digit, and a zero has no sign", () => {
  assert.equal(n.fixedText(0.125, 2), "0.12");
  assert.equal(n.fixedText(0.375, 2), "0.38");
  assert.equal(n.fixedText(2.5, 0), "2");
  assert.equal(n.fixedText(-0.004, 2), "0.00");
  assert.equal(n.fixedText(-131.2, 0), "−131");
});

test("small and large numbers have a prefix or a power of ten", () => {
  assert.equal(n.prefixedText(0.0004, 2, "s"), "400 µs");
  assert.equal(n.significantText(338335236380.8754, 2), "3.4 × 10¹¹");
  assert.equal(n.significantText(0.5, 3), "0.500");
  assert.equal(n.probabilityText(0.0004), "< 0.1 %");
  assert.equal(n.percentText(0.971), "97.1 %");
});

test("a decimal comma is no number", () => {
  assert.equal(n.numberOf("1,5"), null);
  assert.equal(n.numberOf(" 1e9 "), 1e9);
  for (const text of ["", "x", "1.2.3", "nan", "Infinity", "0x10"]) assert.equal(n.numberOf(text), null);
});

test("bounds and extrapolations never look like measured times", () => {
  assert.equal(words.decayText(level({ decay_s: 0.512, u_decay_s: 0.031 })), "0.512(31) s");
  assert.equal(words.decayText(level({ status: "not_reached", at_least_s: 5 })), "> 5.00 s (not reached)");
  assert.equal(words.decayText(level({ status: "below_resolution", at_most_s: 0.02 })), "< 0.0200 s (below resolution)");
  assert.equal(words.decayText(level({ status: "too_noisy" })), "too noisy");
  assert.equal(words.decayText(level({ status: "extrapolated", extrapolated: { decay_s: 5.1, low_s: 4.2, high_s: 7 } })), "≈ 5.10 s (4.20 to 7.00 s), extrapolated");
  assert.equal(words.levelText(0.07), "7 %");
  assert.equal(words.levelText(Math.exp(-1)), "1/e");
  assert.equal(words.levelText(500, "absolute_V"), "500 V");
});

test("each statement has a shape of its own", () => {
  const statements = ["pass", "conditional pass", "conditional fail", "fail", "void"];
  assert.deepEqual(statements.map(shapeOf), ["filled circle", "left half circle", "right half circle", "filled square", "open circle"]);
  assert.equal(shapeOf("toString"), null);
});

test("every flag that there is has words, and no others", async () => {
  const listed = await readFile(new URL("../../docs/flags.md", import.meta.url), "utf8");
  const codes = [...listed.matchAll(/^\| `(\w+)` \|/gm)].map((found) => found[1]);
  assert.ok(codes.length > 40);
  assert.deepEqual([...flags.flagCodes].sort(), [...codes].sort());
  assert.ok(flags.graver("void_run", "warn") < 0);
});

test("axes have ticks at round numbers, also within a decade", () => {
  assert.deepEqual(new Scale("linear", 0, 1, 0, 100).ticks(5).map((tick) => tick.text), ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]);
  assert.deepEqual(new Scale("logarithmic", 1e9, 1e13, 0, 1).ticks(6).map((tick) => tick.text), ["10⁹", "10¹⁰", "10¹¹", "10¹²", "10¹³"]);
  assert.ok(new Scale("logarithmic", 0.2, 0.6, 0, 1).ticks(6).length >= 3);
  assert.throws(() => new Scale("logarithmic", 0, 1, 0, 1), RangeError);
});

test("a number keeps its unit and its sign of comparison at the end of a line", () => {
  assert.equal(n.unbroken("mean of t(10 %) ≤ 0.5 s; each run's t(50 V) < 1 s"), "mean of t(10\u00a0%) ≤\u00a00.5\u00a0s; each run's t(50\u00a0V) <\u00a01\u00a0s");
  assert.equal(n.unbroken("washed 5 times, 3 samples"), "washed 5 times, 3 samples");
  assert.equal(n.unbrokenShort("Roll 7"), "Roll\u00a07");
  assert.equal(n.unbrokenShort("Roll 7 of the second delivery"), "Roll 7 of the second delivery");
});
