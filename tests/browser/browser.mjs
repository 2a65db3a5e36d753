// Launching the system's Chromium, and the small checks that every browser test shares.
import { accessSync, constants, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { delimiter, dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const need = createRequire(join(here, "../../web/package.json"));
const { chromium } = need("playwright-core");
const axeSource = readFileSync(need.resolve("axe-core/axe.min.js"), "utf8");

function onPath() {
  for (const name of ["chromium", "chromium-browser", "google-chrome"]) {
    for (const folder of (process.env.PATH ?? "").split(delimiter)) {
      try {
        accessSync(join(folder, name), constants.X_OK);
        return join(folder, name);
      } catch {
        // Not here: look in the next folder.
      }
    }
  }
  throw new Error("no Chromium found: install the package chromium, or name the program in CHROMIUM");
}

export const launch = () => chromium.launch({
  executablePath: process.env.CHROMIUM ?? onPath(),
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});

/** Opens a page that remembers every script error, console error and broken content policy. */
export async function watchedPage(context) {
  const page = await context.newPage();
  const troubles = [];
  page.on("pageerror", (e) => troubles.push(`script error: ${e.message}`));
  page.on("console", (m) => {
    // A refused request is an answer, not a trouble: the page shows it.
    if (m.type() === "error" && !/Failed to load resource: the server responded with a status of 4\d\d/.test(m.text())) troubles.push(`console: ${m.text()}`);
  });
  page.on("request", (r) => {
    const url = new URL(r.url());
    if (!["data:", "blob:"].includes(url.protocol) && url.origin !== new URL(page.url() === "about:blank" ? r.url() : page.url()).origin) troubles.push(`asked elsewhere: ${r.url()}`);
  });
  await page.addInitScript(() => {
    globalThis.policyBreaks = [];
    document.addEventListener("securitypolicyviolation", (e) => globalThis.policyBreaks.push(`${e.violatedDirective} ${e.blockedURI}`));
  });
  return { page, troubles };
}

/** Accessibility findings (WCAG 2.2 A and AA) of what is on the page now. */
export async function audit(page) {
  await page.evaluate(axeSource);
  const result = await page.evaluate(() => globalThis.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
  return result.violations.map((v) => `${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.target.join(" ")).join(" | ")}`);
}

/** What can be touched and is smaller than 48 pixels, or nearer than 12 to its neighbour in a row of keys. */
export const tooSmall = (page) => page.evaluate(() => {
  const found = [];
  const shown = (n) => n.checkVisibility({ checkOpacity: false, checkVisibilityCSS: true }) && n.getBoundingClientRect().width > 0;
  const name = (n) => `${n.tagName.toLowerCase()}.${n.className} "${(n.textContent ?? "").trim().slice(0, 30)}"`;
  for (const n of document.querySelectorAll("button, summary, select, textarea, .input, .choice-item, .nav-door, .door-link, .first-door, .first-book, .site-line, .task, .drop")) {
    if (!shown(n)) continue;
    const box = n.getBoundingClientRect();
    if (box.height < 47.5 || box.width < 47.5) found.push(`${name(n)} is ${box.width.toFixed(0)} by ${box.height.toFixed(0)}`);
  }
  for (const row of document.querySelectorAll(".acts, .doors, .plan-keys, .choice-row, .nudge")) {
    const keys = [...row.querySelectorAll(":scope > button, :scope > a, :scope > label")].filter(shown).map((n) => [n, n.getBoundingClientRect()]);
    for (const [i, [a, x]] of keys.entries()) {
      for (const [, y] of keys.slice(i + 1)) {
        const apart = Math.max(x.left - y.right, y.left - x.right, x.top - y.bottom, y.top - x.bottom);
        if (apart < 11.5) found.push(`${name(a)} is ${apart.toFixed(0)} from its neighbour`);
      }
    }
  }
  return found;
});

/** Contrast of text with what it stands on, by the formula of WCAG 2, least first; only figures are asked about. */
export const faintFigures = (page, least) => page.evaluate((least) => {
  const lum = (rgb) => {
    const [r, g, b] = rgb.map((c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const parts = (text) => (text.match(/[\d.]+/g) ?? []).map(Number);
  const ground = (n) => {
    for (let at = n; at; at = at.parentElement) {
      const c = parts(getComputedStyle(at).backgroundColor);
      if (c.length === 3 || c[3] === 1) return c.slice(0, 3);
    }
    return [255, 255, 255];
  };
  const found = [];
  for (const n of document.querySelectorAll(".big, .deep, .level, .many, td.n, .entry-n, .unit, .tag, .row-small, .pm")) {
    if (!n.checkVisibility()) continue;
    const [a, b] = [lum(parts(getComputedStyle(n).color).slice(0, 3)), lum(ground(n))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < least) found.push(`${n.className} "${n.textContent.slice(0, 20)}" ${ratio.toFixed(2)}`);
  }
  return found;
}, least);
