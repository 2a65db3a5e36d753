// Bundles test/*.test.ts and runs them with Node's own test runner.
import { build } from "esbuild";
import { spawnSync } from "node:child_process";
import { mkdtemp, readdir, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const into = await mkdtemp(join(tmpdir(), "coverbook-page-"));
const tests = (await readdir(join(here, "test"))).filter((f) => f.endsWith(".test.ts"));
await build({
  absWorkingDir: here,
  entryPoints: tests.map((f) => join("test", f)),
  outdir: into,
  outExtension: { ".js": ".mjs" },
  bundle: true,
  platform: "node",
  format: "esm",
  sourcemap: "inline",
  logLevel: "warning",
});
const files = tests.map((f) => join(into, f.replace(/\.ts$/, ".mjs")));
const ran = spawnSync(process.execPath, ["--enable-source-maps", "--test", ...files], { stdio: "inherit" });
await rm(into, { recursive: true });
process.exit(ran.status ?? 70);
