// How long a frame of the plan takes while it is dragged and zoomed: node frames.mjs BASE_URL
// Meant for a site with many legs, such as `node mock.mjs PAGE_FOLDER 4173 20000`.
import { launch, watchedPage } from "./browser.mjs";

const base = process.argv[2]?.replace(/\/$/, "");
if (!base) process.exit(64);
const [site] = await (await fetch(`${base}/api/sites`)).json();
const browser = await launch();
const { page } = await watchedPage(await browser.newContext({ viewport: { width: 1440, height: 900 } }));
await page.goto(`${base}/#/s/${site.id}/cover`);
await page.locator(".plan[data-runs]").waitFor();
await page.waitForTimeout(1500);
const box = await page.locator(".plan-ground").boundingBox();
await page.evaluate(() => {
  globalThis.gaps = [];
  let last = performance.now();
  const tick = (now) => {
    globalThis.gaps.push(now - last);
    last = now;
    requestAnimationFrame(tick);
  };
  requestAnimationFrame(tick);
});
const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
await page.mouse.move(x, y);
await page.mouse.down();
for (let i = 0; i < 60; i += 1) await page.mouse.move(x + Math.sin(i / 8) * 200, y + Math.cos(i / 8) * 150);
await page.mouse.up();
for (let i = 0; i < 30; i += 1) await page.mouse.wheel(0, i < 15 ? -200 : 200);
await page.waitForTimeout(600);
const gaps = (await page.evaluate(() => globalThis.gaps)).sort((p, q) => p - q);
const share = (k) => gaps[Math.min(gaps.length - 1, Math.floor(gaps.length * k))].toFixed(1);
console.log(`${gaps.length} frames; ms between frames: median ${share(0.5)}, p95 ${share(0.95)}, longest ${share(1)}`);
await browser.close();
