// Builds the page into a folder: node build.mjs OUT_DIR
// Writes index.html, one script, one style sheet and the fonts (each named by its hash), and the licence texts.
import { build } from "esbuild";
import { createHash } from "node:crypto";
import { cp, mkdir, readFile, readdir, rm, writeFile } from "node:fs/promises";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const out = process.argv[2];
if (!out) {
  console.error("say where to: node build.mjs OUT_DIR");
  process.exit(64);
}
const outDir = resolve(out);
await rm(outDir, { recursive: true, force: true });
await mkdir(outDir, { recursive: true });

const result = await build({
  absWorkingDir: here,
  entryPoints: { page: "src/main.ts", style: "src/style/index.css" },
  outdir: outDir,
  bundle: true,
  minify: true,
  format: "esm",
  target: "es2022",
  charset: "utf8",
  entryNames: "[name]-[hash]",
  assetNames: "[name]-[hash]",
  loader: { ".woff2": "file" },
  legalComments: "none",
  metafile: true,
  logLevel: "warning",
});

let script = "";
let style = "";
for (const [file, made] of Object.entries(result.metafile.outputs)) {
  const name = file.split("/").pop() ?? "";
  if (made.entryPoint === "src/main.ts") script = name;
  if (made.entryPoint === "src/style/index.css") style = name;
}
const icon = await readFile(join(here, "src/icon.svg"));
const iconName = `icon-${createHash("sha256").update(icon).digest("hex").slice(0, 8)}.svg`;
await writeFile(join(outDir, iconName), icon);

const page = await readFile(join(here, "src/index.html"), "utf8");
await writeFile(
  join(outDir, "index.html"),
  page.replaceAll("{{script}}", script).replaceAll("{{style}}", style).replaceAll("{{icon}}", iconName),
);

// The licence of everything bundled, in one text beside the page.
const bundled = new Set();
for (const input of Object.keys(result.metafile.inputs)) {
  const found = /node_modules\/((?:@[^/]+\/)?[^/]+)\//.exec(input);
  if (found) bundled.add(found[1]);
}
const parts = [];
for (const name of [...bundled].sort()) {
  const folder = join(here, "node_modules", name);
  const files = (await readdir(folder)).filter((f) => /^licen[cs]e/i.test(f)).sort();
  const { version, license } = JSON.parse(await readFile(join(folder, "package.json"), "utf8"));
  const text = files[0] ? await readFile(join(folder, files[0]), "utf8") : "";
  parts.push(`${name} ${version} (${license})\n\n${text.trim()}\n`);
}
await writeFile(join(outDir, "LICENCES.txt"), parts.join(`\n${"-".repeat(72)}\n\n`));
await cp(join(here, "node_modules/@fontsource-variable/noto-sans/LICENSE"), join(outDir, "OFL.txt"));
