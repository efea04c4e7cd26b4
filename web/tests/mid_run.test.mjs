// In the middle of a run: a reload, a second window and a lost link lose nothing.

import assert from "node:assert/strict";
import { readdir } from "node:fs/promises";
import path from "node:path";
import { test } from "node:test";
import { answer, go, limit_ms, newPage, noComplaint, openBrowser, openWindow, until } from "./browser.mjs";
import { serve } from "./program.mjs";

/** Starts the order without a check, and mounts: the first run is under way when this returns. */
async function startRuns(page, reason = "Shown to a visitor; the bench is a simulated one") {
  await go(page, "#/bench?order=awning-live");
  await page.locator("#start-who").fill("TO");
  await page.getByText("Start without a good check").click();
  await page.locator("#start-override").fill(reason);
  await page.getByRole("button", { name: "Start the order" }).click();
  for (;;) {
    const question = await answer(page);
    if (/^Mount/.test(question)) break;
  }
}

const recordedCells = () => document.querySelectorAll(".plan-grid td.filled").length;
const liveDrawn = () => {
  const canvas = document.querySelector(".chart.live canvas");
  if (!canvas) return 0;
  const { width, height } = canvas;
  const bytes = canvas.getContext("2d").getImageData(0, 0, width, height).data;
  let drawn = 0;
  for (let at = 3; at < bytes.length; at += 4) if (bytes[at] > 0) ++drawn;
  return drawn;
};

test("a reload in mid-run shows the run from its beginning, and the session goes on", { timeout: limit_ms }, async (t) => {
  const program = await serve({ orders: ["awning-live"], pace: "20" });
  t.after(() => program.stop());
  const browser = await openBrowser();
  t.after(() => browser.close());
  const { page, context, complaints } = await openWindow(browser, program.entry);
  await startRuns(page);
  await until(page, () => document.querySelectorAll(".plan-grid td.filled").length >= 1 && document.querySelector(".plan-grid td.now"), "the second run goes on");
  const before = { cells: await page.evaluate(recordedCells), drawn: await page.evaluate(liveDrawn) };
  await page.reload();
  await until(page, () => document.querySelector(".bench-bar:not([hidden])") && document.querySelector(".plan-grid"), "the session is shown again");
  await until(page, () => document.querySelector(".chart.live canvas"), "the trace is shown again");
  await page.waitForTimeout(300);
  assert.ok((await page.evaluate(recordedCells)) >= before.cells);
  assert.ok((await page.evaluate(liveDrawn)) > 0.5 * before.drawn, "the trace from before the reload is gone");

  // A second window: the same session, the same question, answered from either.
  const other = await newPage(context, complaints);
  await other.goto(program.url + "#/bench");
  await until(other, () => document.querySelector(".plan-grid td.filled polyline"), "the second window shows the plan");
  assert.ok((await other.evaluate(recordedCells)) >= before.cells);
  await until(page, () => document.querySelector(".question"), "the unattended runs are over", 60_000);
  await other.waitForSelector(".question");
  await answer(other);
  await until(page, () => !document.querySelector(".question"), "the question is answered in the first window too");

  // Paused in one window, seen in both; gone on in the other.
  await page.bringToFront();
  await page.locator("h1").focus();
  await page.keyboard.press("p");
  await until(other, () => /will pause|Go on/.test(document.querySelector(".bench-bar").innerText), "the second window shows the pause");
  await other.waitForSelector(".question");
  await answer(other, "Go on");
  await until(page, () => !document.querySelector(".question"), "it goes on");

  // Abort by Escape, from a page that is not Bench.
  await go(page, "#/today");
  await page.keyboard.press("Escape");
  await until(other, () => document.querySelector(".ended"), "the session has ended in the other window");
  assert.match(await other.locator(".ended").innerText(), /Stopped by a person/);
  noComplaint(complaints);
});

test("a lost link is said, and what happened meanwhile is shown afterwards", { timeout: limit_ms }, async (t) => {
  const program = await serve({ orders: ["awning-live"], pace: "10" });
  t.after(() => program.stop());
  const browser = await openBrowser();
  t.after(() => browser.close());
  // The line of events can be cut from outside, as a cable would be.
  const cut = () => {
    const { EventSource: Line } = window;
    window.lines = [];
    window.EventSource = class extends Line {
      constructor(...words) {
        super(...words);
        window.lines.push(this);
      }
    };
  };
  const { page, context, complaints } = await openWindow(browser, program.entry, { init: cut });
  const whole = await newPage(context, complaints);
  await whole.goto(program.url + "#/bench");
  await startRuns(page);
  await until(page, () => document.querySelector(".plan-grid td.now"), "a run goes on");

  const lost = (url) => url.pathname.startsWith("/api/");
  await page.route(lost, (route) => route.abort("internetdisconnected"));
  await page.evaluate(() => {
    for (const line of window.lines) {
      line.close();
      line.onerror?.(new Event("error"));
    }
  });
  await until(page, () => /link to the program is lost. The bench goes on/.test(document.querySelector(".notice").innerText), "the page says that the link is lost");
  const then = await page.evaluate(recordedCells);
  await until(whole, () => document.querySelectorAll(".plan-grid td.filled").length >= 2, "the bench goes on without the page");
  assert.equal(await page.evaluate(recordedCells), then);

  await page.unroute(lost);
  await until(page, () => !document.body.classList.contains("link-lost"), "the link is back");
  await until(page, () => document.querySelectorAll(".plan-grid td.filled").length >= 2, "the runs from meanwhile are shown");
  assert.match(await page.locator(".notice").innerText(), /nothing was missed/);

  // To its end, and every run is on the disk.
  for (;;) {
    const now = await page.evaluate(() => ({ ended: !!document.querySelector(".ended"), question: !!document.querySelector(".question") }));
    if (now.ended) break;
    if (now.question) await answer(page);
    else await page.waitForTimeout(50);
  }
  await until(page, () => document.querySelectorAll(".plan-grid td.filled").length === 12, "every place is filled");
  assert.equal(await whole.evaluate(recordedCells), 12);
  const files = (await readdir(path.join(program.folder, "awning-live/recordings"))).filter((name) => /^live-.*-\d+\.ebbrec$/.test(name));
  assert.equal(files.length, 12);
  noComplaint(complaints, [/ERR_INTERNET_DISCONNECTED/, /Failed to load resource/]);
});
