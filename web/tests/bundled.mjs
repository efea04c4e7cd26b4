// A module of the page, for a test without a browser.

import { build } from "esbuild";
import path from "node:path";

const web = path.resolve(import.meta.dirname ?? path.dirname(new URL(import.meta.url).pathname), "..");

export async function bundled(file) {
  const { outputFiles } = await build({ entryPoints: [path.join(web, "src", file)], bundle: true, write: false, format: "esm", platform: "neutral", logLevel: "error" });
  return import(`data:text/javascript;base64,${Buffer.from(outputFiles[0].contents).toString("base64")}`);
}
