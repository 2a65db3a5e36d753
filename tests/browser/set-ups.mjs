// Set-ups beyond the first: set anew, the danger circle, the air, and forms sent again after a broken connection.
import assert from "node:assert/strict";
import { dms, sight } from "./readings.mjs";

/** Runs the checks; `kit` holds what run.mjs has at hand. */
export async function setUpChecks(kit) {
  const { check, page, troubles, ask, head, open, site, map, four, setUpAfresh, onScreen } = kit;
  const post = (path, body) => ask(`/api/sites/${site.id}/${path}`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });

  await check("the staff stood where nothing tells a level says so in words, and asks for no level of its own making", async () => {
    await open(page, "/record");
    await page.evaluate(() => sessionStorage.clear());
    await open(page, "/record");
    const asked = [];
    const listen = (r) => { if (r.url().endsWith("/dig")) asked.push(r.postDataJSON()); };
    page.on("request", listen);
    for (let i = 0; i < 4; i += 1) await page.getByRole("button", { name: "Farther" }).click();
    const far = [map.min[0] - 200, map.max[1] + 100];
    await page.mouse.click(...await onScreen(page, far));
    await page.locator('[data-role="no-level"]').waitFor();
    page.off("request", listen);
    assert.match(await page.locator('[data-role="no-level"]').innerText(), /No run is recorded within 30 m[\s\S]*says nothing about what lies here[\s\S]*Nobody searched here/);
    assert.deepEqual(asked.filter((q) => q.floor_level_m !== undefined), [], "a floor level was made up");
  });

  // A station that points hang on, and one of the points it was found by.
  let station;
  let standing;
  for (const s of await ask(`/api/sites/${site.id}/stations`)) {
    const entry = s.entries.at(-1);
    const { entries: [{ body }] } = await ask(`/api/sites/${site.id}/journal?before=${entry + 1}&limit=1`);
    const { kind: _k, v: _v, id: _i, by: _b, device: _d, observed_at: _o, import: _f, unchecked_reason: _u, ...set } = body;
    const moves = await post("stations/try-anew", { ...set, saw: entry });
    if (moves.points > 0) [station, standing] = [s, { ...set, saw: entry }];
  }
  assert.ok(station, "no station with points measured from it");
  const first = station.control[0];

  await check("a station set anew shows what would move before it is recorded, and every setting stays on its card and in the book", async () => {
    const before = await head();
    await open(page, `/record/stations/${encodeURIComponent(station.station)}`);
    await page.waitForTimeout(600);
    await page.locator('details[open] [data-act="anew"]').click();
    const target = page.locator(`.target[data-target="${first.point}"]`);
    await target.waitFor();
    await target.locator("summary").click();
    const easting = (first.at[0] + 0.002).toFixed(3);
    await target.getByLabel("Easting").fill(easting);
    await target.getByLabel("Where the better").fill("network adjusted again");
    await page.locator('[data-act="try-anew"]').click();
    await page.locator('[data-role="moves-says"]').waitFor();
    const moves = await post("stations/try-anew", { ...standing, control: { points: [{ point: first.point, easting_m: easting }] } });
    assert.equal(await page.locator('[data-role="moves-says"]').textContent(), moves.says);
    assert.ok(moves.points > 0 && moves.moved > 0, moves.says);
    assert.ok((await page.locator(".trial-result").innerText()).includes(moves.changed[0]), moves.changed[0]);
    assert.equal(await head(), before, "trying was written in the book");
    // A changed figure takes the old answer away.
    await target.getByLabel("Prism constant").fill("0.0");
    assert.equal(await page.locator('[data-act="record-anew"]').count(), 0);
    await target.getByLabel("Prism constant").fill("");
    await page.locator('[data-act="try-anew"]').click();
    await page.locator(".record-station").getByLabel("Your name", { exact: false }).fill("Page test");
    const reason = page.locator(".record-station").getByLabel("Why it is used without");
    if (await reason.count() > 0) {
      await page.locator('[data-act="record-anew"]').click();
      await page.locator(".record-station .field-wrong", { hasText: "no check passes" }).waitFor();
      assert.equal(await head(), before, "recorded without a reason");
      await reason.fill("the check is read again tomorrow");
    }
    await page.locator('[data-act="record-anew"]').click();
    await page.locator('.outcome[data-state="sent"]', { hasText: station.station }).waitFor();
    const now = (await ask(`/api/sites/${site.id}/stations`)).find((s) => s.station === station.station);
    assert.deepEqual(now.at, moves.after.at, "what was shown is what was recorded");
    assert.equal(now.revisions.length, station.revisions.length + 1);
    assert.deepEqual(now.revisions.at(-2).at, station.at);
    await page.getByRole("link", { name: "Its card" }).click();
    const settings = await page.locator('details[open] [data-role="settings"]').innerText();
    for (const r of now.revisions) assert.ok(settings.includes(`entry ${r.entry}`) && settings.includes(r.at[0].toFixed(3)), settings);
    await open(page, `/book/${now.entries.at(-1)}`);
    const said = await page.locator(`.entry[data-n="${now.entries.at(-1)}"] .entry-says`).innerText();
    assert.ok(said.startsWith(`Set again station ${station.station}`) && said.includes(`(entry ${station.entries.at(-1)})`), said);
  });

  // On a circle through three known points, 1 m outside it, away from all three.
  const three = four.slice(0, 3);
  const [a, b, c] = three.map((p) => p.at);
  const [bx, by, cx, cy] = [b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]];
  const twice = 2 * (bx * cy - by * cx);
  const centre = [a[0] + (cy * (bx * bx + by * by) - by * (cx * cx + cy * cy)) / twice, a[1] + (bx * (cx * cx + cy * cy) - cx * (bx * bx + by * by)) / twice];
  const radius = Math.hypot(a[0] - centre[0], a[1] - centre[1]);
  const bearings = three.map((p) => Math.atan2(p.at[0] - centre[0], p.at[1] - centre[1])).sort((x, y) => x - y);
  let [widest, from] = [-1, 0];
  for (const [i, bearing] of bearings.entries()) {
    const gap = (bearings[i + 1] ?? bearings[0] + 2 * Math.PI) - bearing;
    if (gap > widest) [widest, from] = [gap, bearing];
  }
  const on = from + widest / 2;
  const axis = [centre[0] + (radius + 1) * Math.sin(on), centre[1] + (radius + 1) * Math.cos(on), a[2] + 1.4];

  await check("with directions alone the circle on which they fail is drawn and said, before and after they are worked out", async () => {
    await setUpAfresh(page);
    await page.getByLabel("Name of the station").fill("SD");
    await page.getByLabel("no, anywhere").check();
    for (const p of three.slice(0, 2)) await page.locator(".known-point", { hasText: p.point }).locator("input").check();
    await page.getByText("Two directions alone find nothing").waitFor();
    await page.locator(".known-point", { hasText: three[2].point }).locator("input").check();
    await page.getByText(`the circle through the three, radius ${radius.toFixed(0)} m`).waitFor();
    await page.getByLabel("degrees, minutes, seconds").check();
    for (const p of three) {
      const s = sight(axis, 12.5, p.at, 1.5);
      const target = page.locator(`.target[data-target="${p.point}"]`);
      await target.getByLabel("Direction").fill(dms(s.direction));
      await target.getByLabel("Target height").fill("1.5");
      await target.getByLabel("Prism constant").fill("0");
    }
    await page.getByRole("button", { name: "Take common figures" }).click();
    await page.getByRole("button", { name: "Work it out" }).click();
    const said = await page.locator('[data-role="danger-circle"]').innerText();
    assert.match(said, /danger circle[\s\S]*1\.0 m outside the circle through the control/);
    assert.ok(said.includes(`radius ${radius.toFixed(1)} m`), said);
    assert.match(await page.locator('[data-role="station-says"]').innerText(), /Nothing is left over to test the readings/);
  });

  await check("the air is asked about plainly, and what the instrument holds already is not put on again", async () => {
    await setUpAfresh(page);
    await kit.typeSetUp(page, "SA", kit.scale());
    const sent = () => page.waitForRequest((r) => r.url().endsWith("/stations/try")).then((r) => r.postDataJSON());
    const work = page.getByRole("button", { name: "Work it out" });
    let body = sent();
    await work.click();
    assert.ok(!("air" in await body), "an air nobody stated was sent");
    await page.getByLabel("It reckoned with it").check();
    await work.click();
    await page.locator(".field-wrong", { hasText: "write what was entered" }).waitFor();
    await page.getByLabel("What was entered").fill("18 \u00b0C, 1009 hPa");
    body = sent();
    await work.click();
    assert.deepEqual([(await body).air_in_instrument, (await body).air], ["18 \u00b0C, 1009 hPa", undefined]);
    await page.getByLabel("To be applied now").check();
    const figures = [["Temperature", "25"], ["Pressure", "1002"], ["Relative humidity", "60"], ["ppm set in the instrument", "6"], ["Refractivity at 0 ppm", "286.34"], ["Wavelength", "0.658"]];
    for (const [label, value] of figures.slice(0, 2)) await page.getByRole("textbox", { name: label }).fill(value);
    await page.locator(".air .read-back", { hasText: "100 m above the sea" }).waitFor();
    await work.click();
    await page.locator(".field-wrong", { hasText: "this figure is needed" }).waitFor();
    for (const [label, value] of figures) await page.getByRole("textbox", { name: label }).fill(value);
    body = sent();
    await work.click();
    assert.deepEqual((await body).air, { temperature_c: "25", pressure_hpa: "1002", humidity_pct: "60", entered_ppm: "6", reference_ppm: "286.34", wavelength_um: "0.658" });
    await page.locator('[data-role="figures"] > summary').click();
    assert.match(await page.locator('[data-role="figures"]').innerText(), /less 6 ppm set in the instrument already/);
  });

  await check("a form whose answer was lost is recorded once, however often it is sent", async () => {
    const before = await head();
    await open(page, "/book");
    await page.locator("summary", { hasText: "Write a remark" }).click();
    await page.getByLabel("Remark").fill("the kerb was lifted");
    await page.getByLabel("Your name", { exact: false }).last().fill("Page test");
    const path = "**/notes";
    await page.route(path, async (route) => {
      await route.fetch();
      await route.abort("connectionreset");
    });
    const write = page.getByRole("button", { name: "Write it" });
    await write.click();
    await page.locator('.outcome[data-state="unknown"]', { hasText: "recorded once and not twice" }).waitFor();
    await page.unroute(path);
    assert.equal(await head(), before + 1, "the first did not arrive");
    await write.click();
    await page.locator('.outcome[data-state="sent"]').waitFor();
    assert.equal(await head(), before + 1, "recorded twice");
    // What is written next is another remark.
    await page.getByLabel("Remark").fill("and put back");
    await write.click();
    await page.waitForTimeout(500);
    assert.equal(await head(), before + 2);
    // The connection was broken on purpose: that one word on the console is this check's own.
    const broken = troubles.indexOf("console: Failed to load resource: net::ERR_CONNECTION_RESET");
    assert.ok(broken >= 0, troubles.join("; "));
    troubles.splice(broken, 1);
  });
}
