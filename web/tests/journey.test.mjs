// One order from its intake to the issued report, all in the page, on a bench where things go wrong.

import assert from "node:assert/strict";
import { execFile } from "node:child_process";
import path from "node:path";
import { test } from "node:test";
import { promisify } from "node:util";
import { answer, go, limit_ms, noComplaint, openBrowser, openWindow, until } from "./browser.mjs";
import { ebbtide, serve } from "./program.mjs";

const today = new Date();
const day = (offset) => new Date(today.getTime() + offset * 86_400_000).toISOString().slice(0, 10);

/** Answers what is asked by its main answer until the session has ended; answers how many questions of each kind came. */
export async function untilEnded(page, most_ms = limit_ms) {
  const asked = {};
  const end = Date.now() + most_ms;
  for (;;) {
    assert.ok(Date.now() < end, `the session does not end; asked so far: ${JSON.stringify(asked)}`);
    const now = await page.evaluate(() => ({ ended: document.querySelector(".ended h2")?.textContent ?? "", question: document.querySelector(".question h2")?.textContent ?? "" }));
    if (now.question) {
      asked[now.question] = (asked[now.question] ?? 0) + 1;
      await answer(page);
    } else if (now.ended) return { ended: now.ended, asked };
    else await page.waitForTimeout(50);
  }
}

test("a newcomer takes an order in, proves the bench, drives it through four faults, and issues the report", { timeout: limit_ms }, async (t) => {
  const program = await serve({ orders: ["awning-live"], simulation: "simulation-faults.toml", ledger: true });
  t.after(() => program.stop());
  const browser = await openBrowser();
  t.after(() => browser.close());
  const { page, complaints } = await openWindow(browser, program.entry);

  // Intake.
  await go(page, "#/order?new");
  const typed = {
    id: "TP-2026-2001",
    title: "Awning sheet, decay of charge",
    "customer.name": "Quayside Awnings",
    "customer.address": "9 Quayside, Tern Point",
    agreed: `Customer (M. Harrow) and laboratory (I. Marsh), letter of ${day(-6)}`,
    received: day(-3),
    due: day(4),
    tested_from: day(0),
    tested_to: day(0),
    tested_by: "T. Okafor",
    description: "Coated awning sheet, 0.4 mm",
    lot: "Roll 31",
    condition_on_receipt: "Clean, rolled, no damage",
    relative_humidity_percent: "12.2",
    temperature_C: "23.1",
    conditioned_from: `${day(-3)}T16:00`,
    conditioned_to: `${day(-1)}T08:00`,
  };
  for (const [name, value] of Object.entries(typed)) await page.locator(`.intake [name="${name}"]`).first().fill(value);
  await page.locator('.intake button[type="submit"]').click();
  await until(page, () => /^#\/order\/./.test(location.hash), "the order was taken in");
  const key = decodeURIComponent(page.url().split("#/order/")[1]);

  // The opening check; a fault there is looked at and the step is made again.
  await go(page, `#/bench?order=${encodeURIComponent(key)}`);
  await page.locator("#start-who").fill("TO");
  await page.getByRole("button", { name: "Make the opening check" }).click();
  const check = await untilEnded(page);
  assert.ok(check.asked["Look at the bench"] >= 1, "no fault was met in the check");
  await until(page, () => /Opening check: Proven/.test(document.body.innerText), "the check is good");

  // The runs.
  await page.getByRole("button", { name: "Start the order" }).click();
  await until(page, () => !document.querySelector(".ended"), "the session has begun");
  const driven = await untilEnded(page);
  assert.equal(driven.ended, "Every place of the plan is filled");
  assert.ok(driven.asked["Look at the bench"] >= 2, JSON.stringify(driven.asked));
  assert.ok(driven.asked["Mount"] >= 2);
  await until(page, () => document.querySelectorAll(".plan-grid td.filled").length === 12, "the plan is full");
  await until(page, () => document.querySelectorAll(".plan-grid td.filled polyline").length === 12, "every place shows its trace");
  assert.match(await page.locator(".ended").innerText(), /12 recorded, [1-9]\d* aborted/);

  // The closing check.
  await page.getByRole("button", { name: "Make the closing check" }).click();
  await until(page, () => !document.querySelector(".ended"), "the closing check has begun");
  await untilEnded(page);
  await until(page, () => /Closing check: Proven/.test(document.body.innerText), "the closing check is good");

  // Statement, report.
  await go(page, `#/order/${encodeURIComponent(key)}`);
  await until(page, () => document.querySelector("main .conformity")?.textContent, "the statement stands", 60_000);
  assert.match(await page.locator("main .conformity").first().innerText(), /pass/);
  await page.locator("main button.main", { hasText: "Issue" }).click();
  await page.locator('dialog [name="who"]').fill("I. Marsh");
  await page.locator('dialog button[type="submit"]').click();
  await until(page, () => document.querySelector("dialog code.hash"), "the report is written", 60_000);
  const href = await page.locator("dialog a").first().getAttribute("href");
  const report = await page.evaluate(async (from) => {
    const got = await fetch(from);
    return { type: got.headers.get("content-type"), begins: (await got.text()).slice(0, 5) };
  }, href);
  assert.deepEqual(report, { type: "application/pdf", begins: "%PDF-" });

  // What was issued can be worked out again from itself.
  const file = path.join(program.folder, key, "issued", decodeURIComponent(href.split("/").at(-1)));
  await promisify(execFile)(ebbtide, ["verify", file]);
  noComplaint(complaints);
});
