// The page in a real browser against a real server:
//
//   node run.mjs BASE_URL [FOLDER_FOR_SCREENSHOTS]
//
// The server must hold a site with runs and a surface, such as the demo's. The test records a few points in it.
// Names and places are asked of the server, so that no label of the demo is written here. Exit 0: all held; 1: not.
import assert from "node:assert/strict";
import { mkdir, readFile } from "node:fs/promises";
import { join } from "node:path";
import { dms, sight } from "./readings.mjs";
import { setUpChecks } from "./set-ups.mjs";
import { askHold, holdChecks } from "./hold-point.mjs";
import { tapedChecks } from "./taped.mjs";
import { audit, faintFigures, launch, tooSmall, watchedPage } from "./browser.mjs";

const [base, shots] = process.argv.slice(2);
if (!base) {
  console.error("say where the server is: node run.mjs BASE_URL [FOLDER]");
  process.exit(64);
}
const origin = base.replace(/\/$/, "");
const ask = async (path, init) => {
  const response = await fetch(`${origin}${path}`, init);
  assert.ok(response.ok, `${path}: ${response.status} ${await response.clone().text()}`);
  return response.json();
};

// A site with runs, a run to dig across, and the surface to ask below.
const sites = await ask("/api/sites");
let site;
let map;
for (const candidate of sites) {
  const m = await ask(`/api/sites/${candidate.id}/map`);
  if (m.runs.some((r) => r.line.length > 1) && (!map || m.runs.length > map.runs.length)) {
    site = candidate;
    map = m;
  }
}
assert.ok(site, "the server holds no site with runs");
const view = await ask(`/api/sites/${site.id}`);
const known = map.runs.find((r) => r.line.length > 1 && r.u95_h_m.length > 0) ?? map.runs[0];
const [a, b] = known.line;
const mid = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
const square = [[-2, -2], [2, -2], [2, 2], [-2, 2]].map(([e, n]) => [mid[0] + e, mid[1] + n]);
const pasted = square.map(([e, n]) => `${e.toFixed(3)},${n.toFixed(3)}`).join(" ");
const surface = (view.surfaces.find((s) => s.kind === "finished-built") ?? view.surfaces.find((s) => s.kind === "existing") ?? view.surfaces[0])?.name;
assert.ok(surface, "the site has no surface to dig below");
const head = async () => (await ask(`/api/sites/${site.id}`)).head.n;
const at = (path) => `${origin}/#/s/${encodeURIComponent(site.id)}${path}`;

const browser = await launch();
const failures = [];
let passed = 0;
const check = async (name, act) => {
  const began = Date.now();
  try {
    await act();
    passed += 1;
    console.log(`ok    ${name} (${Date.now() - began} ms)`);
  } catch (cause) {
    failures.push(name);
    console.log(`NOT   ${name}\n      ${String(cause.message ?? cause).replaceAll("\n", "\n      ")}`);
  }
};
const desktop = { viewport: { width: 1440, height: 900 }, colorScheme: "light" };
const context = await browser.newContext(desktop);
const { page, troubles } = await watchedPage(context);
page.setDefaultTimeout(15000);

const open = async (p, path) => {
  // A page that is there already is loaded afresh: only the part after the hash would differ.
  if (p.url() === at(path)) await p.reload();
  else await p.goto(at(path));
  await p.locator("#page").waitFor();
};
const askDig = async (p) => {
  await open(p, "/dig");
  await p.getByLabel("Corners", { exact: false }).first().fill(pasted);
  await p.getByLabel(/^Depth m$/).fill("1.2");
  await p.getByLabel("Below which surface").selectOption(surface);
  await p.locator('[data-act="dig"]').click();
  await p.locator('[data-role="says"]').waitFor();
};

// The contract as this server states it, against what the page reads: web/src/wire.ts.
const contract = await fetch(`${origin}/api/openapi.json`).then((r) => (r.ok ? r.json() : null));
if (contract === null) console.log("--    this server states no contract (a stand-in?): types are not compared");
else await check("the page's types are the server's own contract: same fields, null where it may send null, the same words", async () => {
  const { schemas } = contract.components;
  const wire = await readFile(new URL("../../web/src/wire.ts", import.meta.url), "utf8");
  const nullable = (schema) => (Array.isArray(schema.type) && schema.type.includes("null")) || (schema.oneOf ?? []).some((s) => s.type === "null");
  const told = [];
  let compared = 0;
  for (const [, name, body] of wire.matchAll(/export interface (\w+) \{\n([\s\S]*?)\n\}/g)) {
    const schema = schemas[name];
    // A question is written here with what may be left out; the server's own name for it need not be ours.
    if (!schema?.properties || name === "DigQuestion") continue;
    compared += 1;
    const ours = [...body.matchAll(/^ {2}(\w+)(\??): (.+);$/gm)].map(([, field, , type]) => `${field}${type.endsWith("| null") ? " or null" : ""}`).sort();
    const theirs = Object.entries(schema.properties).map(([field, s]) => `${field}${nullable(s) ? " or null" : ""}`).sort();
    for (const field of ours) if (!theirs.includes(field)) told.push(`${name}: the page reads ${field}, the server does not send it so`);
    for (const field of theirs) if (!ours.includes(field)) told.push(`${name}: the server sends ${field}, wire.ts does not know it so`);
  }
  for (const [, name, text] of wire.matchAll(/export type (\w+) = ((?:"[^"]+"(?: \| )?)+);/g)) {
    if (!schemas[name]?.enum) continue;
    compared += 1;
    const ours = [...text.matchAll(/"([^"]+)"/g)].map((m) => m[1]).sort().join(" ");
    const theirs = [...schemas[name].enum].sort().join(" ");
    if (ours !== theirs) told.push(`${name}: "${ours}" here, "${theirs}" there`);
  }
  assert.deepEqual(told, []);
  assert.ok(compared >= 25, `only ${compared} compared`);
});

await check("the list of sites leads to a site with three doors and the Book", async () => {
  await page.goto(origin);
  await page.locator(`a[href="#/s/${encodeURIComponent(site.id)}"]`).first().click();
  for (const door of ["Record", "Before cover", "Planned dig", "The Book"]) await page.getByRole("link", { name: new RegExp(`^${door}`) }).waitFor();
  assert.equal(await page.locator("h1").textContent(), view.name);
});

await check("the plan shows every run of the site, drawn in ink", async () => {
  await open(page, "/record");
  await page.locator(`.plan[data-runs="${(await ask(`/api/sites/${site.id}/map`)).runs.length}"]`).waitFor();
  await page.waitForTimeout(300);
  const inked = await page.locator(".plan canvas").first().evaluate((canvas) => {
    const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
    const colours = new Set();
    for (let i = 0; i < data.length; i += 4) if (data[i + 3] === 255) colours.add((data[i] << 16) | (data[i + 1] << 8) | data[i + 2]);
    return colours.size;
  });
  assert.ok(inked > 8, `only ${inked} colours on the plan`);
});

// Where a place of the site lies on the screen now.
const onScreen = async (p, place) => {
  await p.waitForTimeout(400);
  const [e, n, resolution] = (await p.locator(".plan").getAttribute("data-look")).split(" ").map(Number);
  const box = await p.locator(".plan-ground").boundingBox();
  return [box.x + box.width / 2 + (place[0] - e) / resolution, box.y + box.height / 2 + (n - place[1]) / resolution];
};

await check("touching a run on the plan opens a card, and touching its end on plan or in the list stands the staff there", async () => {
  await open(page, "/cover");
  await page.locator(".plan[data-look]").waitFor();
  await page.mouse.click(...await onScreen(page, mid));
  await page.locator('[data-role="run-name"]').waitFor();
  const touched = await page.locator('[data-role="run-name"]').textContent();
  const line = map.runs.find((r) => r.run === touched)?.line;
  assert.ok(line, `the card is of ${touched}, which is no run of the site`);

  await open(page, `/run/${encodeURIComponent(known.run)}`);
  assert.equal(await page.locator('[data-role="run-name"]').textContent(), known.run);
  const card = await ask(`/api/sites/${site.id}/runs/${encodeURIComponent(known.run)}?surface=${encodeURIComponent(surface)}`);
  const [first, last] = [card.vertices[0], card.vertices.at(-1)];
  await page.locator(".staff h2", { hasText: `Staff at ${first.point}` }).waitFor();
  await page.mouse.click(...await onScreen(page, last.axis));
  await page.locator(".staff h2", { hasText: `Staff at ${last.point}` }).waitFor();
  await page.locator("button.point").first().click();
  await page.locator(".staff h2", { hasText: `Staff at ${first.point}` }).waitFor();
  assert.ok((await page.locator(".section-svg").getAttribute("aria-label")).includes(known.run));
});

await check("touching empty ground stands the staff there and says what is not known", async () => {
  await open(page, "/record");
  await page.locator(".plan[data-look]").waitFor();
  const box = await page.locator(".plan-ground").boundingBox();
  const before = await head();
  await page.mouse.click(box.x + 40, box.y + box.height - 90);
  await page.locator(".staff h2", { hasText: /Staff stood at|cannot be stood/ }).waitFor();
  assert.equal(await head(), before, "looking was written in the book");
});

await check("the cover door gives the verdicts of the server, worst first, and says which rule spoke", async () => {
  const answer = await ask(`/api/sites/${site.id}/cover?surface=${encodeURIComponent(surface)}`);
  await page.evaluate(() => sessionStorage.clear());
  await open(page, "/cover");
  if (new Set(view.surfaces.map((s) => s.name)).size > 1) {
    // Among several surfaces none is taken for granted.
    await page.locator(".surface-question").waitFor();
    assert.equal(await page.locator(".run-block").count(), 0);
    await page.locator(".surface-keys button", { hasText: surface }).first().click();
  }
  await page.locator('[data-role="says"]', { hasText: answer.says }).waitFor();
  const many = await page.locator(".summary .many").allTextContents();
  assert.deepEqual(many.map(Number), [answer.summary.short, answer.summary.missing, answer.summary.not_proved, answer.summary.met]);
  assert.equal(await page.locator(".run-block").first().getAttribute("data-run"), answer.runs[0].run);
  await page.locator(".run-block > summary").first().click();
  await page.locator(".run-block .inside table").first().waitFor();
  // Places where runs meet, as the server lists them; opening one marks it on the plan.
  assert.equal(await page.locator('[data-role="separation-says"]').textContent(), answer.separation.says);
  const worst = answer.separation.places[0];
  assert.ok(worst, "no two runs of the site meet");
  const place = page.locator("[data-separation]").first();
  assert.equal(await place.getAttribute("data-separation"), worst.runs.join(" "));
  assert.equal(await place.locator(".verdict").getAttribute("data-verdict"), worst.verdict);
  await place.locator("summary").click();
  await place.locator("dl.facts").waitFor();
  assert.deepEqual((await page.locator(".plan").getAttribute("data-mark")).split(" ").map(Number), worst.place.slice(0, 2));
});

await check("a dig by pasted corners says first what is not known, then what the bucket meets", async () => {
  const answer = await ask(`/api/sites/${site.id}/dig`, {
    method: "POST", headers: { "content-type": "application/json" },
    body: JSON.stringify({ area: square.map((p) => p.map((v) => Number(v.toFixed(3)))), depth_m: 1.2, surface }),
  });
  const before = await head();
  await askDig(page);
  assert.equal(await page.locator("h1").textContent(), answer.says);
  assert.equal(await page.locator("#page h1").count(), 1);
  const near = answer.runs.filter((r) => (r.verdict === null ? r.part.length > 0 : r.verdict !== "beyond"));
  assert.ok(near.length > 0, "the dig was meant to cross a run");
  const rows = page.locator(".staff-row");
  assert.equal(await rows.count(), near.length);
  const levels = await rows.evaluateAll((list) => list.map((n) => n.getBoundingClientRect().top));
  assert.deepEqual(levels, [...levels].sort((x, y) => x - y), "rows do not follow the staff downward");
  const text = await page.locator(".staff-row", { hasText: known.run }).first().textContent();
  const mine = answer.runs.find((r) => r.run === known.run);
  assert.ok(text.includes(mine.top_level_m.max.toFixed(3)), `level ${mine.top_level_m.max} not in "${text}"`);
  if (mine.cover_m.min !== null) assert.ok(text.includes(Math.abs(mine.cover_m.min).toFixed(3)), `cover ${mine.cover_m.min} not in "${text}"`);
  assert.ok((await page.locator(".share-words").textContent()).includes(`${answer.searched.share} %`));
  assert.equal(await head(), before, "a dig that was not to be kept was written in the book");
});

await check("corners that cannot be read are refused beside the field", async () => {
  await open(page, "/dig");
  await page.getByLabel("Corners", { exact: false }).first().fill("1,2 3;4");
  await page.locator('[data-act="dig"]').click();
  await page.locator(".field-wrong", { hasText: "corner 2" }).waitFor();
});

await check("corners can be put down by touching the plan, and by the cross without a pointer", async () => {
  await open(page, "/dig");
  const box = await page.locator(".plan-ground").boundingBox();
  for (const [x, y] of [[0.3, 0.3], [0.6, 0.3], [0.6, 0.6]]) await page.mouse.click(box.x + box.width * x, box.y + box.height * y);
  await page.getByRole("button", { name: "Corner at the cross" }).click();
  const text = await page.getByLabel("Corners", { exact: false }).first().inputValue();
  assert.equal(text.trim().split(" ").length, 4, text);
});

await check("a dig plan on paper comes as a PDF", async () => {
  await askDig(page);
  const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "Dig plan as PDF on A4" }).click()]);
  assert.equal(download.suggestedFilename(), "dig-plan-A4.pdf");
});

const stamp = Date.now().toString(36);
const hostile = `T${stamp} <img src=x onerror="globalThis.struck=1">`;
const level = Math.min(a[2], b[2]);
const csv = ["point,easting,northing,level,touched,run,order,service,outside_mm,sigma_h_mm,sigma_v_mm,known",
  ...[[0, 3], [4, 3.4], [8, 3]].map(([e, n], i) =>
    `T${stamp}-${i + 1},${(mid[0] + e).toFixed(3)},${(mid[1] + n).toFixed(3)},${level.toFixed(3)},outside-top,"${hostile.replaceAll('"', '""')}",${i + 1},water,50,5,5,seen`)].join("\n");
const file = { name: `shots ${stamp} <b>bold.csv`, mimeType: "text/csv", buffer: Buffer.from(csv) };

const second = await browser.newContext(desktop);
const watcher = await watchedPage(second);

await check("an import is shown on the plan and nothing is recorded until that is said", async () => {
  const before = await head();
  await open(page, "/record/import/points");
  await page.locator('input[type="file"]').setInputFiles(file);
  await page.locator('[data-role="preview-says"]').waitFor();
  assert.equal(await head(), before, "the preview was written in the book");
  assert.equal(await page.locator('[data-act="record"]').isEnabled(), true, await page.locator("#page").innerText());
});

await check("a second browser sees the new run without reloading", async () => {
  const before = await head();
  await open(watcher.page, "/record");
  const count = (await ask(`/api/sites/${site.id}/map`)).runs.length;
  await watcher.page.locator(`.plan[data-runs="${count}"]`).waitFor();
  await page.getByLabel("Your name", { exact: false }).last().fill("Page test");
  await page.locator('[data-act="record"]').click();
  await page.locator('[data-role="recorded"]').waitFor();
  assert.ok((await head()) > before, "recording wrote nothing");
  await watcher.page.locator(`.plan[data-runs="${count + 1}"]`).waitFor({ timeout: 5000 });
});

await check("a label that looks like markup stays text, everywhere it is shown", async () => {
  for (const path of [`/run/${encodeURIComponent(hostile)}`, "/cover", "/book", "/record"]) {
    await open(page, path);
    await page.waitForTimeout(400);
    assert.equal(await page.locator('#app img, #app b, #app [onerror]').count(), 0, `markup came alive at ${path}`);
    assert.equal(await page.evaluate(() => globalThis.struck), undefined);
  }
  await open(page, `/run/${encodeURIComponent(hostile)}`);
  assert.equal(await page.locator('[data-role="run-name"]').textContent(), hostile);
});

await check("a file without a header is asked about, column by column, with nothing chosen for easting and northing", async () => {
  await open(page, "/record/import/points");
  const bare = csv.split("\n").slice(1).map((line) => line.split(",").slice(0, 4).join(",").replace(/^T/, "U")).join("\n");
  await page.locator('input[type="file"]').setInputFiles({ name: "bare.csv", mimeType: "text/csv", buffer: Buffer.from(bare) });
  await page.getByRole("heading", { name: "Which column is which?" }).waitFor();
  assert.equal(await page.locator('[data-act="record"]:enabled').count(), 0);
  const chosen = await page.locator(".column-row select").evaluateAll((lists) => lists.map((l) => l.value));
  assert.ok(!chosen.includes("easting") && !chosen.includes("northing"), `chosen beforehand: ${chosen}`);
});

await check("a row that cannot be read is named with its row, and nothing can be recorded", async () => {
  await open(page, "/record/import/points");
  await page.locator('input[type="file"]').setInputFiles({ name: "broken.csv", mimeType: "text/csv", buffer: Buffer.from("point,easting,northing,level,touched\nB1,12..5,3,x,outside-top\n") });
  await page.locator(".findings, .outcome[data-state=refused]").first().waitFor();
  assert.match(await page.locator("#page").innerText(), /row 2/);
  assert.equal(await page.locator('[data-act="record"]:enabled').count(), 0);
});

await check("the keyboard alone goes through the doors and asks a dig", async () => {
  const keys = await watchedPage(context);
  const p = keys.page;
  await p.goto(origin);
  await p.locator(".site-line").first().waitFor();
  const tabTo = async (test, what, key = "Tab") => {
    for (let i = 0; i < 80; i += 1) {
      await p.keyboard.press(key);
      if (await p.evaluate(test, what)) return;
    }
    throw new Error(`tab never reached ${what}`);
  };
  const onHref = (what) => (document.activeElement?.getAttribute("href") ?? "").endsWith(what);
  const onLabel = (what) => document.querySelector(`label[for="${document.activeElement?.id}"]`)?.textContent?.startsWith(what) ?? false;
  const onText = (what) => document.activeElement?.textContent === what;
  await tabTo(onHref, `/s/${encodeURIComponent(site.id)}`);
  await p.keyboard.press("Enter");
  await p.locator(".first-door").first().waitFor();
  for (const [path, heading] of [["/record", "Record"], ["/cover", "Before cover"], ["/book", "The Book"], ["/dig", "Planned dig"]]) {
    // From the heading of a page the doors lie backward; on the first page they lie ahead.
    await tabTo(onHref, path, path === "/record" ? "Tab" : "Shift+Tab");
    await p.keyboard.press("Enter");
    await p.getByRole("heading", { level: 1, name: heading }).waitFor();
  }
  await tabTo(onLabel, "Corners");
  await p.keyboard.type(pasted);
  await tabTo(onLabel, "Depth");
  await p.keyboard.type("1.2");
  await tabTo(onLabel, "Below which surface");
  await p.keyboard.type(surface);
  await tabTo(onText, "What is there?");
  const outline = await p.evaluate(() => getComputedStyle(document.activeElement).outlineStyle);
  assert.notEqual(outline, "none", "the focused key has no outline");
  await p.keyboard.press("Enter");
  await p.locator("h1[data-role=says]").waitFor();
  assert.deepEqual(keys.troubles, []);
  await p.close();
});

await check("an address that leads nowhere says so", async () => {
  await page.goto(`${origin}/#/s/00000000-0000-7000-8000-000000000000`);
  await page.getByRole("heading", { name: "This site cannot be opened" }).waitFor();
});

// The set-up screen, with readings worked out here from the site's own control.
const hasStations = contract === null || Object.keys(contract.paths).some((p) => p.endsWith("stations/try"));
const centre = [0, 1].map((k) => map.control.reduce((sum, c) => sum + c.at[k], 0) / Math.max(map.control.length, 1));
const axis = [centre[0] + 3.217, centre[1] - 2.134, (map.control[0]?.at[2] ?? 0) + 1.2];
const orientation = 37.25;
const targetHeight = 1.5;
const four = map.control.slice(0, 4);
const readingsOf = (c, scale, longer = 0) => {
  const s = sight(axis, orientation, c.at, targetHeight, scale);
  return { direction: dms(s.direction), zenith: dms(s.zenith), slope: (s.slope + longer).toFixed(4) };
};
const bodyOf = (station, scale, longer = 0) => ({
  station, angles: "dms", instrument_height_m: "0",
  instrument: { distance_mm: "2", distance_ppm: "2", direction_sec: "5", zenith_sec: "5", target_height_sigma_mm: "1", centring_sigma_mm: "1" },
  sights: four.map((c, i) => {
    const { slope, ...angles } = readingsOf(c, scale, i === 1 ? longer : 0);
    return { target: c.point, sighted_as: i === 3 ? "check" : "control", ...angles, slope_m: slope, target_height_m: String(targetHeight), prism_mm: "0" };
  }),
});
const tryBody = (body) => ask(`/api/sites/${site.id}/stations/try`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });
/** Types a whole set-up into the screen, by its labels. */
const typeSetUp = async (p, station, scale, longer = 0) => {
  await p.getByLabel("Name of the station").fill(station);
  await p.getByLabel("no, anywhere").check();
  for (const c of four) {
    const box = p.locator(".known-point", { hasText: c.point }).locator("input");
    if (!await box.isChecked()) await box.check();
  }
  await p.getByLabel("degrees, minutes, seconds").check();
  for (const [i, c] of four.entries()) {
    const target = p.locator(`.target[data-target="${c.point}"]`);
    const r = readingsOf(c, scale, i === 1 ? longer : 0);
    await target.getByLabel("Direction").fill(r.direction);
    await target.getByLabel("Zenith angle").fill(r.zenith);
    await target.getByLabel("Slope distance").fill(r.slope);
    await target.getByLabel("Target height").fill(String(targetHeight));
    await target.getByLabel("Prism constant").fill("0");
  }
  await p.getByRole("button", { name: "Take common figures" }).click();
};
const setUpAfresh = async (p) => {
  await open(p, "/record");
  await p.evaluate(() => sessionStorage.clear());
  await open(p, "/record/station");
};
let scale = 1;
if (!hasStations) console.log("--    this server sets no stations: the set-up screen is not tried");
if (hasStations) {
  scale = (await tryBody(bodyOf("scale", 1))).grid_scale;

  await check("nothing is chosen beforehand on the set-up screen, and what is missing is asked for beside its field", async () => {
    await setUpAfresh(page);
    assert.equal(await page.locator(".set-up input:checked").count(), 0, "something is chosen beforehand");
    assert.deepEqual(await page.locator(".set-up .field input").evaluateAll((list) => list.map((n) => n.value).filter((v) => v !== "")), []);
    await page.getByRole("button", { name: "Work it out" }).click();
    await page.locator(".field-wrong", { hasText: "name the station" }).waitFor();
    await page.getByLabel("Name of the station").fill("X");
    await page.getByLabel("no, anywhere").check();
    for (const c of four) await page.locator(".known-point", { hasText: c.point }).locator("input").check();
    assert.match(await page.locator(".chosen").textContent(), /3 to find the station, 1 kept as check/);
    await page.getByRole("button", { name: "Work it out" }).click();
    await page.locator(".field-wrong", { hasText: "say how the angles are written" }).waitFor();
  });

  await check("typed readings are said back in words, and a wrong unit shows at once", async () => {
    await setUpAfresh(page);
    const c = four[0];
    await page.locator(".known-point", { hasText: c.point }).locator("input").check();
    const target = page.locator(`.target[data-target="${c.point}"]`);
    await target.getByLabel("Direction").fill("123.75");
    await page.getByLabel("decimal degrees").check();
    await target.locator(".read-back", { hasText: "123\u00b0\u00a045\u2032\u00a000.0\u2033" }).waitFor();
    await page.getByLabel("packed d.mmss").check();
    await target.locator(".read-back", { hasText: "minutes of 60 or more" }).waitFor();
  });

  await check("a set-up is worked out without recording, drawn with its sights, and found where it was put", async () => {
    const before = await head();
    await setUpAfresh(page);
    await typeSetUp(page, `ST-${stamp}`, scale);
    await page.locator(".caution", { hasText: "assumed" }).first().waitFor();
    await page.getByRole("button", { name: "Work it out" }).click();
    await page.locator('[data-role="station-says"]').waitFor();
    const view = await tryBody(bodyOf(`ST-${stamp}`, scale));
    assert.equal(await page.locator('[data-role="station-says"]').textContent(), view.says);
    // The page shows what the server found; the server must find what the readings were worked out from.
    const off = Math.hypot(view.at[0] - axis[0], view.at[1] - axis[1]);
    assert.ok(off < 0.002 && Math.abs(view.level_m - axis[2]) < 0.002, `found ${off} m away, level ${view.level_m} for ${axis[2]}`);
    assert.equal(view.check, "passed", view.says);
    assert.equal(await head(), before, "trying was written in the book");
    await page.locator('[data-role="figures"] > summary').click();
    assert.equal(await page.locator('[data-role="figures"] table').first().locator("tbody tr").count(), view.readings.length);
    assert.equal(await page.getByLabel("Why it is used without").count(), 0);
    await page.getByLabel("Target height").first().fill("1.6");
    assert.equal(await page.locator('[data-act="record-station"]').count(), 0, "a changed reading left the old answer standing");
  });

  await check("a distance 98 mm too long is named, and is not recorded without a reason", async () => {
    const before = await head();
    await setUpAfresh(page);
    await typeSetUp(page, `SB-${stamp}`, scale, 0.098);
    await page.getByRole("button", { name: "Work it out" }).click();
    await page.locator(".station-answer .causes li, .station-answer .findings li").first().waitFor();
    const text = await page.locator(".station-answer").innerText();
    assert.ok(text.includes("do not agree") && text.includes(four[1].point), text);
    await page.locator(".record-station").getByLabel("Your name", { exact: false }).fill("Page test");
    if (await page.getByLabel("Why it is used without").count() > 0) {
      await page.locator('[data-act="record-station"]').click();
      await page.locator(".record-station .field-wrong", { hasText: /check/ }).waitFor();
    }
    assert.equal(await head(), before, "a station without a passed check was recorded without a reason");
  });

  await check("a station with a passed check is recorded, and stands on the plan of a second browser", async () => {
    await open(watcher.page, "/record");
    await setUpAfresh(page);
    await typeSetUp(page, `ST-${stamp}`, scale);
    await page.getByRole("button", { name: "Work it out" }).click();
    await page.locator(".record-station").getByLabel("Your name", { exact: false }).fill("Page test");
    await page.locator('[data-act="record-station"]').click();
    await page.locator('.outcome[data-state="sent"]', { hasText: `ST-${stamp}` }).waitFor();
    const stations = await ask(`/api/sites/${site.id}/stations`);
    assert.ok(stations.some((s) => s.station === `ST-${stamp}`));
    await watcher.page.locator(`.plan[data-stations="${stations.length}"]`).waitFor({ timeout: 5000 });
    await open(page, `/record/stations/${encodeURIComponent(`ST-${stamp}`)}`);
    await page.locator('details[open] [data-role="station-says"]').waitFor();
  });

  await check("without a check a station is recorded only for a written reason, and the cover door says that it is in doubt", async () => {
    const before = await head();
    await setUpAfresh(page);
    await typeSetUp(page, `SN-${stamp}`, scale);
    await page.getByRole("button", { name: `Not sighted: ${four[3].point}` }).click();
    await page.locator(".chosen", { hasText: "none kept as check" }).waitFor();
    await page.getByRole("button", { name: "Work it out" }).click();
    await page.locator(".record-station").getByLabel("Your name", { exact: false }).fill("Page test");
    await page.locator('[data-act="record-station"]').click();
    await page.locator(".record-station .field-wrong", { hasText: "no check was made" }).waitFor();
    assert.equal(await head(), before, "recorded without a reason");
    await page.getByLabel("Why it is used without").fill("the fourth point is built over");
    await page.locator('[data-act="record-station"]').click();
    await page.locator('.outcome[data-state="sent"]', { hasText: `SN-${stamp}` }).waitFor();
    await open(page, "/cover");
    const said = await page.locator('[data-role="suspects"]').innerText();
    assert.match(said, /In doubt/);
    assert.ok(said.includes(`SN-${stamp}`) && said.includes("the fourth point is built over"), said);
    await page.locator('[data-role="suspects"] .doubt-sign').first().waitFor();
  });

  await check("pasted readings fill the same fields, and a fault in a line is named with its line", async () => {
    await setUpAfresh(page);
    await page.locator("summary", { hasText: "Paste readings" }).click();
    const lines = four.map((c) => {
      const r = readingsOf(c, scale);
      return [c.point, r.direction, r.zenith, r.slope, String(targetHeight), "0", "left"].join("\t");
    });
    const area = page.getByLabel("Readings, one sight a line");
    await area.fill([...lines, "nowhere\t1\t2\t3\t4\t5"].join("\n"));
    await page.getByRole("button", { name: "Put them in" }).click();
    await page.locator(".field-wrong", { hasText: "line 5: nowhere" }).waitFor();
    assert.equal(await page.locator(".target").count(), 0);
    await area.fill(lines.join("\n"));
    await page.getByRole("button", { name: "Put them in" }).click();
    assert.equal(await page.locator(".target").count(), 4);
    assert.equal(await page.locator(`.target[data-target="${four[2].point}"]`).getByLabel("Slope distance").inputValue(), readingsOf(four[2], scale).slope);
    // A telephone call: the page is loaded again, and nothing typed is lost.
    await page.reload();
    assert.equal(await page.locator(`.target[data-target="${four[2].point}"]`).getByLabel("Slope distance").inputValue(), readingsOf(four[2], scale).slope);
  });

  await check("a file of observations is read only when the angle unit was stated, and shows its station before anything is recorded", async () => {
    const before = await head();
    await open(page, "/record/import/observations");
    const text = ["target,kind,direction,zenith,slope,target_height,prism_mm", ...four.map((c, i) => {
      const r = readingsOf(c, scale);
      return [c.point, i === 3 ? "check" : "control", r.direction, r.zenith, r.slope, targetHeight.toFixed(3), "0"].join(",");
    })].join("\n");
    await page.locator('input[type="file"]').setInputFiles({ name: "readings.csv", mimeType: "text/csv", buffer: Buffer.from(`${text}\n`) });
    assert.equal(await page.getByLabel("How are the angles written?").inputValue(), "", "a unit is chosen beforehand");
    await page.getByLabel("Name of the station").fill(`SF-${stamp}`);
    await page.getByLabel("How are the angles written?").selectOption("dms");
    await page.getByRole("button", { name: "Take common figures" }).click();
    await page.getByRole("button", { name: "Read the file" }).click();
    await page.locator('[data-role="station-says"]').waitFor();
    const view = await tryBody({ ...bodyOf(`SF-${stamp}`, scale) });
    assert.equal(await page.locator('[data-role="station-says"]').textContent(), view.says);
    assert.equal(await head(), before, "the preview was written in the book");
    await page.getByLabel("Your name", { exact: false }).last().fill("Page test");
    await page.locator('[data-act="record"]').click();
    await page.locator('[data-role="recorded"]').waitFor();
    assert.ok(await head() > before, "recording wrote nothing");
  });

  await check("the set-up screen is filled in by the keyboard alone", async () => {
    await setUpAfresh(page);
    const focus = (test, what) => page.evaluate(test, what);
    const tabTo = async (test, what) => {
      for (let i = 0; i < 120; i += 1) {
        await page.keyboard.press("Tab");
        if (await focus(test, what)) return;
      }
      throw new Error(`tab never reached ${what}`);
    };
    const onText = (what) => (document.activeElement?.closest("label")?.textContent ?? document.querySelector(`label[for="${document.activeElement?.id}"]`)?.textContent ?? document.activeElement?.textContent ?? "").startsWith(what);
    await tabTo(onText, "Name of the station");
    await page.keyboard.type("KB");
    await tabTo(onText, "no, anywhere");
    await page.keyboard.press("Space");
    for (const c of four) {
      await tabTo(onText, c.point);
      await page.keyboard.press("Space");
    }
    await tabTo(onText, "degrees, minutes, seconds");
    await page.keyboard.press("Space");
    for (const c of four) {
      const r = readingsOf(c, scale);
      for (const [label, value] of [["Direction", r.direction], ["Zenith", r.zenith], ["Slope", r.slope], ["Target height", String(targetHeight)], ["Prism", "0"]]) {
        await tabTo(onText, label);
        await page.keyboard.type(value);
      }
    }
    await tabTo(onText, "Take common figures");
    await page.keyboard.press("Enter");
    await tabTo(onText, "Work it out");
    await page.keyboard.press("Enter");
    await page.locator('[data-role="station-says"]').waitFor();
  });
}

const kit = { view, stamp, check, page, troubles, ask, head, open, at, site, map, four, setUpAfresh, typeSetUp, onScreen, scale: () => scale };
if (hasStations && contract !== null) {
  await setUpChecks(kit);
  await tapedChecks(kit);
}
if (contract !== null) await holdChecks({ ...kit, known, surface });

const anewOf = contract === null ? undefined : (await ask(`/api/sites/${site.id}/stations`))[0]?.station;

// Every screen, at three sizes, light and dark: pictures, accessibility, sizes, contrast, words.
const sizes = { phone: [360, 740], tablet: [820, 1180], desktop: [1440, 900], zoomed: [320, 480] };
const screens = ["", "/record", "/record/import/points", "/record/run", "/record/tape", "/record/searched", "/record/surface", "/record/rules", "/record/grid", ...(hasStations ? ["/record/station", "station", "station-answer", "/record/stations", ...(anewOf ? [`/record/stations/${encodeURIComponent(anewOf)}`, `/record/stations/${encodeURIComponent(anewOf)}/anew`] : []), "/record/import/observations"] : []), "/cover", ...(contract === null ? [] : ["/cover/hold", "hold-list"]), `/run/${encodeURIComponent(known.run)}`, "/dig", "answer", "/book", "/legend"];
if (shots) await mkdir(shots, { recursive: true });
for (const [size, [width, height]] of Object.entries(sizes)) {
  for (const colorScheme of ["light", "dark"]) {
    await check(`every screen holds at ${width} by ${height}, ${colorScheme}`, async () => {
      const c = await browser.newContext({ viewport: { width, height }, colorScheme });
      const { page: p, troubles: t } = await watchedPage(c);
      const found = [];
      for (const screen of screens) {
        const name = screen === "answer" ? "answer" : screen.startsWith("/run/") ? "run" : screen.replaceAll("/", "-").replace(/^-/, "") || "first";
        if (screen === "answer") await askDig(p);
        else if (screen === "station") {
          await setUpAfresh(p);
          await typeSetUp(p, "ST1", scale);
          await p.locator(".target").first().scrollIntoViewIfNeeded();
        } else if (screen === "station-answer") {
          await p.getByRole("button", { name: "Work it out" }).click();
          await p.locator('[data-role="station-says"]').waitFor();
        }
        else if (screen === "hold-list") await askHold(p, { open, known, surface });
        else await open(p, screen);
        await p.waitForTimeout(350);
        if (shots) await p.screenshot({ path: join(shots, `${name}-${size}-${colorScheme}.png`) });
        for (const text of await audit(p)) found.push(`${name}: ${text}`);
        for (const text of await faintFigures(p, 7)) found.push(`${name}: faint ${text}`);
        if (size === "phone") for (const text of await tooSmall(p)) found.push(`${name}: ${text}`);
        const wide = await p.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        if (wide > 0) found.push(`${name}: ${wide} pixels wider than the window`);
        const words = (await p.locator("body").innerText()).match(/\b(safe|clear)\b/gi);
        if (words) found.push(`${name}: says ${words.join(", ")}`);
        for (const text of await p.evaluate(() => globalThis.policyBreaks)) found.push(`${name}: content policy: ${text}`);
      }
      assert.deepEqual([...new Set(found), ...t], []);
      await c.close();
    });
  }
}

await check("a crew reads the first figure of an answer on the first screen of a phone", async () => {
  const c = await browser.newContext({ viewport: { width: 360, height: 740 } });
  const { page: p } = await watchedPage(c);
  await askDig(p);
  const bar = await p.locator(".doors").boundingBox();
  const figure = await p.locator('[data-role="first-met"] .big').boundingBox();
  assert.ok(figure && figure.y + figure.height < bar.y, "the figure lies below the first screen");
  await c.close();
});

await check("no script error, no console error, no request elsewhere, no broken content policy", async () => {
  assert.deepEqual([...troubles, ...watcher.troubles, ...(await page.evaluate(() => globalThis.policyBreaks))], []);
});

await browser.close();
console.log(`${passed} held, ${failures.length} did not`);
process.exit(failures.length === 0 ? 0 : 1);
