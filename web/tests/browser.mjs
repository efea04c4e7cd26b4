// A browser that notes every word of complaint: a console error, a thrown error or a breach of the content policy fails the test.

import assert from "node:assert/strict";
import { chromium } from "playwright-core";

export async function openBrowser() {
  return chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox"] });
}

export const sizes = {
  laptop: { viewport: { width: 1280, height: 800 } },
  "4k": { viewport: { width: 3840, height: 2160 } },
  tablet: { viewport: { width: 800, height: 1280 }, hasTouch: true },
};

/** A fresh profile and its first window. `complaints` grows; `expected` are patterns of what a test provokes. */
export async function openWindow(browser, entry, { init, ...options } = {}) {
  const context = await browser.newContext({ ...sizes.laptop, colorScheme: "light", reducedMotion: "reduce", ...options });
  if (init) await context.addInitScript(init);
  const complaints = [];
  const page = await newPage(context, complaints);
  await page.goto(entry);
  await page.waitForSelector("h1:not(:empty)");
  return { context, page, complaints };
}

export async function newPage(context, complaints) {
  const page = await context.newPage();
  page.setDefaultTimeout(60_000);
  page.on("console", (message) => ["error", "warning"].includes(message.type()) && complaints.push(message.text()));
  page.on("pageerror", (error) => complaints.push(error.message));
  return page;
}

export function noComplaint(complaints, expected = []) {
  const left = complaints.filter((one) => !expected.some((pattern) => pattern.test(one)));
  assert.deepEqual(left, []);
}

/** Waits until `look(page)` answers something true. The content policy forbids Playwright's own waiting by expression. */
export async function until(page, look, words, most_ms = 60_000) {
  const end = Date.now() + most_ms;
  for (;;) {
    const seen = await page.evaluate(look);
    if (seen) return seen;
    if (Date.now() > end) {
      const said = await page.evaluate(() => [...document.querySelectorAll(".failure, .warning, .small.wrong, [role=alert]")].map((one) => one.innerText).filter(Boolean).join(" / "));
      assert.fail(`waited in vain for: ${words}${said ? `; the page says: ${said}` : ""}`);
    }
    await page.waitForTimeout(100);
  }
}

export async function go(page, hash) {
  await page.evaluate((to) => (location.hash = to), hash);
  await settled(page);
}

/** Nothing is being asked of the program any more. */
export async function settled(page) {
  await until(page, () => !document.querySelector(".waiting") && document.querySelector("h1")?.textContent, "the page is filled");
}

const questionText = () => document.querySelector(".question")?.innerText ?? "";

/** Answers the question of the moment by its main button, by keyboard; then waits until it is gone. */
export async function answer(page, label) {
  await page.waitForSelector(".question");
  const before = await page.evaluate(questionText);
  // A question that nobody can have read yet takes no answer.
  await page.waitForTimeout(450);
  await page.evaluate((words) => [...document.querySelectorAll(".question button")].find((one) => !words || one.textContent.includes(words))?.focus(), label ?? "");
  await page.keyboard.press("Enter");
  const end = Date.now() + 60_000;
  while ((await page.evaluate(questionText)) === before) {
    assert.ok(Date.now() < end, `the question stays: ${before}`);
    await page.waitForTimeout(50);
  }
  return before;
}

/** Of one test. A machine of its own needs a tenth of it. */
export const limit_ms = 480_000;
