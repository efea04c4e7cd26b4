// The real program over a folder of its own: copies of the example orders, an empty ledger, the simulated bench.

import { execFile, spawn } from "node:child_process";
import { cp, mkdir, mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import path from "node:path";
import { promisify } from "node:util";

const run = promisify(execFile);
const root = path.resolve(import.meta.dirname ?? path.dirname(new URL(import.meta.url).pathname), "../..");
export const ebbtide = process.env.EBBTIDE ?? path.join(root, "build/ebbtide");
export const shots = process.env.EBBTIDE_SHOTS ?? path.join(root, "build/page-shots");

/**
 * Serves copies of `orders` (names under examples/). `simulation` lies in awning-live. Of `kept` orders the ledger holds what they
 * are; `ledgerFile` is served as it lies there. The answer has `entry` (the address that opens the page), `url` (of the server), `folder` and `stop()`.
 */
export async function serve({ orders, kept = [], simulation = "simulation.toml", pace = "fast", ledger = kept.length > 0, ledgerFile }) {
  const home = await mkdtemp(path.join(tmpdir(), "ebbtide-page-"));
  const folder = path.join(home, "orders");
  await mkdir(folder);
  for (const order of new Set([...orders, "awning-live"])) {
    await cp(path.join(root, "examples", order), path.join(orders.includes(order) ? folder : home, order), { recursive: true });
  }
  const whole = ledgerFile === undefined;
  ledgerFile ??= path.join(home, "demo.ledger");
  if (ledger && whole) await run(ebbtide, ["ledger", "init", "--ledger", ledgerFile]);
  for (const order of whole ? kept : []) await run(ebbtide, ["ledger", "add", path.join(folder, order), "--ledger", ledgerFile, "--who", "TO"]);
  const words = ["serve", folder, "--who", "TO", "--pace", pace, "--simulated", path.join(root, "examples/awning-live", simulation)];
  if (ledger || !whole) words.push("--ledger", ledgerFile);
  const child = spawn(ebbtide, words, { stdio: ["ignore", "pipe", "inherit"] });
  const entry = await firstLine(child);
  return {
    entry,
    url: new URL("/", entry).href,
    folder,
    async stop() {
      const ended = new Promise((done) => child.once("exit", done));
      child.kill("SIGTERM");
      await ended;
      await rm(home, { recursive: true, force: true });
    },
  };
}

function firstLine(child) {
  return new Promise((done, fail) => {
    let text = "";
    child.stdout.on("data", (bytes) => {
      text += bytes;
      const end = text.indexOf("\n");
      if (end >= 0) done(text.slice(0, end).trim());
    });
    child.once("exit", (code) => fail(new Error(`ebbtide serve ended with ${code}`)));
    child.once("error", fail);
  });
}
