// The look without a browser: contrast of every pair in both themes, size of the bundle, words in one place.

import assert from "node:assert/strict";
import { mkdtemp, readFile, readdir, rm } from "node:fs/promises";
import { execFileSync } from "node:child_process";
import { tmpdir } from "node:os";
import path from "node:path";
import { test } from "node:test";
import { gzipSync } from "node:zlib";

const web = path.resolve(import.meta.dirname ?? path.dirname(new URL(import.meta.url).pathname), "..");

/** The custom properties of the light block and of the two dark ones, which must not differ. */
async function themes() {
  const css = await readFile(path.join(web, "src/page.css"), "utf8");
  const block = (start) => {
    const at = css.indexOf(start);
    assert.ok(at >= 0, start);
    const text = css.slice(at, css.indexOf("}", at));
    return Object.fromEntries([...text.matchAll(/--([a-z-]+):\s*(#[0-9a-f]{6})/g)].map((match) => [match[1], match[2]]));
  };
  const dark = block(':root[data-theme="dark"]');
  assert.deepEqual(block(':root:not([data-theme="light"])'), dark);
  return { light: block(":root {"), dark };
}

// WCAG 2.2, "relative luminance" and "contrast ratio" (https://www.w3.org/TR/WCAG22/#dfn-relative-luminance).
function luminance(colour) {
  const [r, g, b] = [1, 3, 5].map((at) => {
    const c = parseInt(colour.slice(at, at + 2), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
function contrast(one, other) {
  const [low, high] = [luminance(one), luminance(other)].sort((a, b) => a - b);
  return (high + 0.05) / (low + 0.05);
}

test("black on white has the contrast that WCAG states", () => {
  // WCAG 2.2: ratios range from 1 to 21.
  assert.ok(Math.abs(contrast("#000000", "#ffffff") - 21) < 1e-9);
});

// What stands on what. Text 4.5 (WCAG 2.2, 1.4.3), edges of what can be operated and lines of drawings 3 (1.4.11).
const pairs = [
  ...["ink", "muted", "accent", "positive", "negative", "fail", "warn"].flatMap((text) => [
    [text, "paper", 4.5],
    [text, "lift", 4.5],
  ]),
  ["on-accent", "accent", 4.5],
  ["warn", "warn-paper", 4.5],
  ["ink", "warn-paper", 4.5],
  ["edge", "paper", 3],
  ["edge", "lift", 3],
];
for (const theme of ["light", "dark"]) {
  test(`every pair of colours can be told apart, ${theme}`, async () => {
    const colours = (await themes())[theme];
    const faint = pairs.filter(([one, other, least]) => contrast(colours[one], colours[other]) < least);
    assert.deepEqual(
      faint.map(([one, other, least]) => `${one} on ${other}: ${contrast(colours[one], colours[other]).toFixed(2)} < ${least}`),
      [],
    );
  });
}

// Machado, Oliveira, Fernandes, "A physiologically-based model for simulation of color vision deficiency", IEEE TVCG 15 (2009), full
// severity, on linear RGB; figures from memory.
const blindness = {
  "none": [1, 0, 0, 0, 1, 0, 0, 0, 1],
  "protanopia": [0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998],
  "deuteranopia": [0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.01182, 0.04294, 0.968881],
  "tritanopia": [1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.3039],
};

/** CIELAB of a colour as somebody with this blindness sees it; sRGB and D65 as in IEC 61966-2-1. */
function seen(colour, matrix) {
  const rgb = [1, 3, 5].map((at) => {
    const c = parseInt(colour.slice(at, at + 2), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  });
  const [r, g, b] = [0, 3, 6].map((row) => Math.min(1, Math.max(0, matrix[row] * rgb[0] + matrix[row + 1] * rgb[1] + matrix[row + 2] * rgb[2])));
  const f = (t) => (t > (6 / 29) ** 3 ? Math.cbrt(t) : t / (3 * (6 / 29) ** 2) + 4 / 29);
  const x = f((0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505);
  const y = f(0.2126 * r + 0.7152 * g + 0.0722 * b);
  const z = f((0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089);
  return [116 * y - 16, 500 * (x - y), 200 * (y - z)];
}

test("the polarities differ for every eye, though no meaning hangs on colour alone", async () => {
  for (const [name, matrix] of Object.entries(blindness)) {
    // Grey stays grey: the rows of each matrix sum to one.
    for (const row of [0, 3, 6]) assert.ok(Math.abs(matrix[row] + matrix[row + 1] + matrix[row + 2] - 1) < 1e-5, name);
    for (const [theme, colours] of Object.entries(await themes())) {
      const [one, other] = [seen(colours.positive, matrix), seen(colours.negative, matrix)];
      const apart = Math.hypot(...one.map((value, at) => value - other[at]));
      // A difference of 2.3 is just noticeable (common practice); thin lines want many times that.
      assert.ok(apart > 20, `${theme}, ${name}: ${apart}`);
    }
  }
});

test("the bundle stays below 150 kB gzipped, and holds no inline style", async () => {
  const out = await mkdtemp(path.join(tmpdir(), "ebbtide-bundle-"));
  try {
    execFileSync("node", ["build.mjs", out], { cwd: web });
    const files = await readdir(out);
    assert.deepEqual(files.sort(), ["index.html", "page.css", "page.js"]);
    let bytes = 0;
    for (const file of files) bytes += gzipSync(await readFile(path.join(out, file)), { level: 9 }).length;
    assert.ok(bytes < 150_000, `${bytes} bytes`);
    const html = await readFile(path.join(out, "index.html"), "utf8");
    assert.doesNotMatch(html, /style=|<style|<script>/);
  } finally {
    await rm(out, { recursive: true });
  }
});
