// The window of a trace, its cursors, and curves on one axis.

import assert from "node:assert/strict";
import { test } from "node:test";
import { bundled } from "./bundled.mjs";

const w = await bundled("trace/window.ts");
const c = await bundled("trace/cursors.ts");
const { joined, mirrored } = await bundled("trace/join.ts");

const { freePlace } = await bundled("figures/scale.ts");

const whole = { from_s: -21, to_s: 4 };
const close = (a, b) => assert.ok(Math.abs(a - b) < 1e-9, `${a} is not ${b}`);

test("zooming keeps what is under the pointer where it is", () => {
  const seen = { from_s: 0, to_s: 2 };
  const next = w.zoomed(seen, 0.5, 0.5, whole, 1e-5);
  close(w.width(next), 1);
  close((0.5 - next.from_s) / w.width(next), 0.25);
});

test("no window leaves the record, and none is narrower than the shortest", () => {
  for (const [from_s, to_s] of [[-100, 100], [3.9, 9], [-30, -20.5], [1, 1], [2, 1]]) {
    const next = w.within({ from_s, to_s }, whole, 0.01);
    assert.ok(next.from_s >= whole.from_s - 1e-12 && next.to_s <= whole.to_s + 1e-12, JSON.stringify(next));
    assert.ok(w.width(next) >= 0.01 - 1e-12);
  }
  close(w.panned({ from_s: 3, to_s: 4 }, 0.5, whole).to_s, 4);
  close(w.panned({ from_s: 0, to_s: 1 }, -0.5, whole).from_s, -0.5);
});

test("the first look shows the fall with its last crossing", () => {
  const seen = w.fallStretch([0.1, 0.3], whole);
  close(seen.to_s, 0.42);
  assert.ok(seen.from_s < 0);
  close(w.fallStretch([], whole).to_s, 4);
  close(w.fallStretch([3.9], whole).to_s, 4);
  close(w.fallStretch([0.03], whole, 0.4).to_s, 0.4);
});

test("a window that differs by less than a hundredth of a column is not asked for again", () => {
  assert.ok(w.sameView({ from_s: 0, to_s: 1 }, { from_s: 0, to_s: 1 + 1e-6 }, 1000));
  assert.ok(!w.sameView({ from_s: 0, to_s: 1 }, { from_s: 0.001, to_s: 1.001 }, 1000));
});

test("a cursor begins in the middle, moves by columns, and stays in the window", () => {
  const seen = { from_s: 0, to_s: 1 };
  let cursors = c.moved(c.noCursors, 0, seen, 100);
  close(cursors.a_s, 0.5);
  cursors = c.moved(cursors, 10, seen, 100);
  close(cursors.a_s, 0.6);
  cursors = c.moved(c.other(cursors), -1000, seen, 100);
  close(cursors.b_s, 0);
  close(cursors.a_s, 0.6);
});

test("what cursors say has no more digits than a column and the noise resolve", () => {
  const cursors = { a_s: 0.123456, b_s: 0.323456, active: "a" };
  const at = (time_s, volts) => ({ time_s, lowest_V: volts - 1, highest_V: volts + 1 });
  const said = c.cursorWords(cursors, at(0.123, 4321.987), at(0.323, 1234.567), 0.0005, 7);
  assert.equal(said.a, "0.1235 s, 4322 V");
  assert.equal(said.difference, "0.2000 s, −3087 V");
  assert.equal(said.ratio, "28.6 %");
  assert.deepEqual(c.cursorWords({ ...cursors, b_s: null }, at(0.1, 1), null, 0.0005, 7).difference, null);
});

test("a cursor reads the samples of its column, and nothing outside the trace or in a gap", () => {
  const time = [0, 1, 1.1, 2, 3];
  const volts = [5, 6, 8, null, 9];
  assert.deepEqual(c.readingAt(time, volts, 1.05, 0.2), { time_s: 1, lowest_V: 6, highest_V: 8 });
  assert.equal(c.readingAt(time, volts, 0.6, 0.2).lowest_V, 6);
  assert.equal(c.readingAt(time, volts, 2.1, 0.2), null);
  assert.equal(c.readingAt(time, volts, 9, 0.2), null);
  assert.equal(c.readingAt([], [], 0, 1), null);
});

test("curves keep their own times on a common axis, and gaps stay gaps", () => {
  const [x, a, b] = joined([{ x: [0, 1, 2], y: [1, null, 3] }, { x: [0.5, 1, 1.5], y: [7, 8, 9] }]);
  assert.deepEqual(x, [0, 0.5, 1, 1.5, 2]);
  assert.deepEqual(a, [1, undefined, null, undefined, 3]);
  assert.deepEqual(b, [undefined, 7, 8, 9, undefined]);
  // Of one time that comes twice, as lowest and highest may, both are kept.
  assert.deepEqual(joined([{ x: [1, 1], y: [2, 3] }]), [[1, 1], [2, 3]]);
});

test("a charging side that mirrors the fall lies upon it", () => {
  const tau = 0.2;
  const time = Array.from({ length: 50 }, (_, i) => -10 + i * 0.02);
  const charge = { x: time, y: time.map((t) => 5000 * (1 - Math.exp(-(t + 10) / tau))) };
  const over = mirrored(charge, 10, 5000);
  over.x.forEach((t, i) => assert.ok(Math.abs(over.y[i] - 5000 * Math.exp(-t / tau)) < 1e-6));
});

test("names at the end of lines keep apart and inside the chart", () => {
  const taken = [];
  for (const wanted of [300, 300, 298, 300, 10]) {
    const y = freePlace(wanted, taken, 15, 0, 300);
    assert.ok(y >= 0 && y <= 300 && taken.every((other) => Math.abs(other - y) >= 15), `${y} of ${taken}`);
    taken.push(y);
  }
});
