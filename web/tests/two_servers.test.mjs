// Two benches on one computer, each with its server, looked at with one browser. Cookies go to every port of a host (RFC 6265,
// section 8.5), so each server is sent the other's too.

import assert from "node:assert/strict";
import { test } from "node:test";
import { go, limit_ms, newPage, noComplaint, openBrowser, openWindow, until } from "./browser.mjs";
import { serve } from "./program.mjs";

test("two servers side by side stay signed in, and neither takes the other's token", { timeout: limit_ms }, async (t) => {
  const programs = await Promise.all([serve({ orders: ["awning-live"] }), serve({ orders: ["halyard-cloth"] })]);
  t.after(() => Promise.all(programs.map((one) => one.stop())));
  const browser = await openBrowser();
  t.after(() => browser.close());
  const [one, other] = programs;
  const first = await openWindow(browser, one.entry);
  const { context, complaints } = first;
  const second = await newPage(context, complaints);
  await second.goto(other.entry);

  const listed = (id) => `[...document.querySelectorAll("main a")].some((one) => one.textContent === ${JSON.stringify(id)})`;
  for (let turn = 0; turn < 2; ++turn) {
    for (const [page, id] of [[first.page, "TP-2026-1127"], [second, "TP-2026-0914"]]) {
      await page.reload();
      await go(page, "#/order");
      await until(page, listed(id), `its own orders, ${id}`);
    }
  }
  assert.equal((await context.cookies()).length, 2);

  const token = (program) => new URL(program.entry).searchParams.get("token");
  const status = async (url, headers = {}) => (await fetch(url, { headers, redirect: "manual" })).status;
  for (const [mine, theirs] of [programs, [other, one]]) {
    const { port } = new URL(mine.url);
    assert.equal(await status(`${mine.url}api/today`, { Authorization: `Bearer ${token(mine)}` }), 200);
    assert.equal(await status(`${mine.url}api/today`, { Authorization: `Bearer ${token(theirs)}` }), 401);
    assert.equal(await status(`${mine.url}?token=${token(theirs)}`), 401);
    assert.equal(await status(`${mine.url}api/today`, { Cookie: `ebbtide_${port}=${token(theirs)}` }), 401);
    assert.equal(await status(`${mine.url}api/today`, { Cookie: `ebbtide_${port}=${token(theirs)}; ebbtide_${new URL(theirs.url).port}=${token(mine)}` }), 401);
  }
  noComplaint(complaints);
});
