// ./dev bench page: first paint of each page, how long a trace of ten million samples takes, what a live frame costs, how large the
// bundle is. Prints a table with goals; 1 where
// one is not met.

import { execFileSync } from "node:child_process";
import { cp, mkdir, mkdtemp, readFile, readdir, rm, writeFile } from "node:fs/promises";
import os from "node:os";
import path from "node:path";
import { gzipSync } from "node:zlib";
import { answer, go, openBrowser, openWindow, until } from "./tests/browser.mjs";
import { ebbtide, serve } from "./tests/program.mjs";

const web = import.meta.dirname ?? path.dirname(new URL(import.meta.url).pathname);
const turns = 5;
const rows = [];
const row = (what, value, unit, goal) => rows.push({ what, value, unit, goal, met: goal === undefined || value <= goal });
const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];

async function bundle() {
  const out = await mkdtemp(path.join(os.tmpdir(), "ebbtide-bundle-"));
  execFileSync("node", ["build.mjs", out], { cwd: web });
  let bytes = 0;
  for (const file of await readdir(out)) bytes += gzipSync(await readFile(path.join(out, file)), { level: 9 }).length;
  await rm(out, { recursive: true });
  row("bundle, gzipped", bytes / 1000, "kB", 150);
}

/** From the address to the first paint, and until the page's own content stands. */
async function firstPaint(browser, program) {
  const pages = {
    today: ["#/today", () => document.querySelector("main table")],
    bench: ["#/bench", () => document.querySelector("#start-order option")],
    orders: ["#/order", () => document.querySelector("main table")],
    order: ["#/order/halyard-cloth", () => document.querySelector("main .conformity")],
    materials: ["#/materials", () => document.querySelector("main table, main svg")],
    methods: ["#/methods", () => document.querySelector("main a")],
  };
  // Judged once, as a person would find it in the middle of the day.
  const { page, context } = await openWindow(browser, program.entry);
  await go(page, pages.order[0]);
  await until(page, pages.order[1], "the order is judged", 120_000);
  for (const [name, [hash, there]] of Object.entries(pages)) {
    const painted = [];
    const filled = [];
    for (let turn = 0; turn < turns; ++turn) {
      const fresh = await context.newPage();
      const began = Date.now();
      await fresh.goto(program.url + hash, { waitUntil: "commit" });
      await until(fresh, there, `${name} is filled`, 60_000);
      filled.push(Date.now() - began);
      painted.push(await until(fresh, () => performance.getEntriesByName("first-contentful-paint")[0]?.startTime, `${name} is painted`));
      await fresh.close();
    }
    row(`first paint, ${name}`, median(painted), "ms");
    row(`content there, ${name}`, median(filled), "ms", 1000);
  }
  await context.close();
}

/** An order of one run of 100 s at 100 kHz, not judged yet; the run's id. */
async function longOrder(folder) {
  const order = path.join(folder, "long");
  await cp(path.join(web, "../examples/awning-live"), order, { recursive: true });
  await mkdir(path.join(order, "recordings"));
  const runs = `file = "recordings/long.ebbrec"\nruns = [{ specimen = "A1"`;
  const simulation = (await readFile(path.join(order, "simulation.toml"), "utf8")).replace(/rate_Hz = .*/, "rate_Hz = 100000");
  await writeFile(path.join(order, "simulation.toml"), `${simulation}\n[[recording]]\n${runs}, zero_s = 1, charge_s = 20, decay_s = 79 }]\n`);
  execFileSync(ebbtide, ["simulate", path.join(order, "simulation.toml"), "--recording", "recordings/long.ebbrec", "-o", path.join(order, "recordings/long.ebbrec")]);
  const text = (await readFile(path.join(order, "order.toml"), "utf8")).replace(/^live = .*$/m, "").replace(/^id = .*$/m, 'id = "TP-2026-LONG"');
  await writeFile(path.join(order, "order.toml"), `${text}\n[[recording]]\n${runs}, face = "front", conditions = "dry", polarity = "+", replicate = 1 }]\n`);
  const measured = execFileSync(ebbtide, ["measure", path.join(order, "recordings/long.ebbrec"), "--bench", path.join(order, "bench.toml"), "--json"]);
  return JSON.parse(measured).files[0].runs[0].run;
}

/** From the address of the page to its first picture, to its figures; then from a key to the picture of another window. Mostly one
 * comes from the order's page, which was judged then; an address that was kept leads to the trace at once. */
async function longTrace(browser) {
  const made = await mkdtemp(path.join(os.tmpdir(), "ebbtide-long-"));
  const run = await longOrder(made);
  try {
    for (const judged of [true, false]) await longTraceOf(browser, made, run, judged);
  } finally {
    await rm(made, { recursive: true });
  }
}

/** A server of its own: it has not read the run yet. */
async function longTraceOf(browser, made, run, judged) {
  const program = await serve({ orders: ["awning-live"] });
  await cp(made, program.folder, { recursive: true });
  const { page, context } = await openWindow(browser, program.entry);
  if (judged) {
    await go(page, "#/order/long");
    await until(page, () => document.querySelector("main .conformity"), "the order is judged", 120_000);
  }
  const what = judged ? "judged" : "not judged";
  const began = Date.now();
  await page.evaluate((hash) => (location.hash = hash), `#/order/long/run/${run}`);
  await until(page, () => document.querySelector("main canvas"), "the first picture", 60_000);
  row(`trace of 10^7 samples, ${what}, first picture`, Date.now() - began, "ms", judged ? 2000 : 5000);
  await until(page, () => document.querySelector("main .flags, main .columns"), "the figures", 120_000);
  row(`its figures, order ${what} before`, Date.now() - began, "ms");
  // From a key to the samples of the window that it asks for.
  const windows = [];
  await page.locator("main .chart").first().focus();
  for (const key of ["w", "+", "+", "ArrowRight", "+", "ArrowLeft", "-", "f"]) {
    const came = page.evaluate(
      () =>
        new Promise((done) => {
          const picture = document.querySelector(".picture");
          const pressed = performance.now();
          let asked = false;
          new MutationObserver((_, seen) => {
            if (picture.classList.contains("loading")) asked = true;
            else if (asked) requestAnimationFrame(() => (seen.disconnect(), done(performance.now() - pressed)));
          }).observe(picture, { attributes: true });
        }),
    );
    await page.keyboard.press(key);
    windows.push(await came);
  }
  row("another window of it, slowest of eight", Math.max(...windows), "ms", 250);
  await context.close();
  await program.stop();
}

/** A simulated bench as fast as ten real ones; the whole session in the picture. */
async function frames(browser, program) {
  const { page, context } = await openWindow(browser, program.entry);
  await go(page, "#/bench?order=awning-live");
  await page.locator("#start-who").fill("TO");
  await page.getByText("Start without a good check").click();
  await page.locator("#start-override").fill("Measuring how quick the page is");
  await page.getByRole("button", { name: "Start the order" }).click();
  while (!/^Mount/.test(await answer(page)));
  await page.getByRole("button", { name: "All" }).click();
  await until(page, () => document.querySelectorAll(".plan-grid td.filled").length >= 3, "three runs are recorded", 120_000);
  const costs = await page.evaluate(() => performance.getEntriesByName("live frame").map((one) => [one.duration, one.detail]));
  const ms = costs.map(([duration]) => duration).sort((a, b) => a - b);
  row("script and draw of a live frame, median", median(ms), "ms", 8);
  row("slowest of twenty live frames", ms[Math.floor(ms.length * 0.95)], "ms");
  row("points a pixel column, both channels", Math.max(...costs.map(([, points]) => points)), "", 4.05);
  await context.close();
}

const program = await serve({ orders: ["awning-live", "halyard-cloth"], kept: ["halyard-cloth"], pace: "10", ...(process.env.EBBTIDE_MILLION ? { ledgerFile: process.env.EBBTIDE_MILLION } : {}) });
const browser = await openBrowser();
try {
  await bundle();
  await firstPaint(browser, program);
  await longTrace(browser);
  await frames(browser, program);
} finally {
  await browser.close();
  await program.stop();
}

const text = (value) => (value >= 100 ? value.toFixed(0) : value.toFixed(value >= 10 ? 1 : 2));
for (const { what, value, unit, goal, met } of rows) {
  console.log(`${what.padEnd(48)} ${text(value).padStart(8)} ${unit.padEnd(3)} ${goal === undefined ? "" : `goal ${Math.floor(goal)} ${unit}, ${met ? "met" : "NOT met"}`}`);
}
console.log(`\nmachine     ${os.cpus()[0]?.model ?? "unknown"}, ${os.cpus().length} cores\ndate        ${new Date().toISOString().slice(0, 10)}`);
process.exitCode = rows.every((one) => one.met) ? 0 : 1;
