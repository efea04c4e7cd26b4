// npm run build -- OUTDIR: page.js, page.css and index.html, ready to be served or embedded.
import { build } from "esbuild";
import { copyFile, mkdir } from "node:fs/promises";
import path from "node:path";

const here = import.meta.dirname ?? path.dirname(new URL(import.meta.url).pathname);
const out = path.resolve(process.argv[2] ?? path.join(here, "dist"));

await mkdir(out, { recursive: true });
await build({
  entryPoints: { page: path.join(here, "src/main.ts") },
  outdir: out,
  bundle: true,
  minify: true,
  format: "esm",
  target: ["chrome110", "firefox110", "safari16"],
  legalComments: "inline",
  charset: "utf8",
  logLevel: "warning",
});
await copyFile(path.join(here, "index.html"), path.join(out, "index.html"));
