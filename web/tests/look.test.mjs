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
