// A point by tape: two candidate places drawn, one chosen by touching it, tried, recorded.
import assert from "node:assert/strict";

/** Runs the checks; `kit` holds what run.mjs has at hand. */
export async function tapedChecks(kit) {
  const { check, page, ask, head, open, site, view, stamp, onScreen } = kit;

  // Three recorded points near each other, and a place near them that nobody recorded: 3 m left of the line through the
  // first two, 1 m along it.
  const points = new Map();
  for (const entry of (await ask(`/api/sites/${site.id}/journal?limit=200`)).entries) {
    if (entry.kind === "PointsRecorded" && entry.withdrawn === null) for (const row of entry.body.points) if (!points.has(row.point)) points.set(row.point, [Number(row.easting_m), Number(row.northing_m)]);
  }
  const names = [...points.keys()];
  const apart = (p, q) => Math.hypot(points.get(p)[0] - points.get(q)[0], points.get(p)[1] - points.get(q)[1]);
  let three;
  for (const a of names) {
    const near = names.filter((n) => n !== a && apart(a, n) > 3 && apart(a, n) < 9).sort((p, q) => apart(a, p) - apart(a, q));
    const c = near.find((n) => n !== near[0] && apart(near[0], n) > 3);
    if (near[0] && c && !/[<>"]/.test(a + near[0] + c)) {
      three = [a, near[0], c];
      break;
    }
  }
  assert.ok(three, "no three points near each other");
  const [a, b] = three.map((n) => points.get(n));
  const base = Math.hypot(b[0] - a[0], b[1] - a[1]);
  const [e, n] = [(b[0] - a[0]) / base, (b[1] - a[1]) / base];
  const place = [a[0] + e - 3 * n, a[1] + n + 3 * e];
  // The tape reads on the ground what the grid has scaled; the site's own factor is what its set-ups were given.
  const scale = kit.scale();
  const taped = three.map((name) => (Math.hypot(place[0] - points.get(name)[0], place[1] - points.get(name)[1]) / scale).toFixed(3));
  const surface = view.surfaces.findIndex((s) => s.shape === "level") + 1;

  const fill = async (label) => {
    await open(page, "/record");
    await open(page, "/record/tape");
    await page.waitForTimeout(400);
    await page.getByLabel("Name of the point").fill(label);
    await page.getByLabel("outside top").check();
    await page.getByLabel("How it is known").selectOption("seen");
    await page.getByLabel("From known points").check();
    for (const [i, name] of three.entries()) {
      const row = page.locator(`.tape-row[data-tape="${i + 1}"]`);
      await row.getByLabel(/^From/).fill(name);
      await row.getByLabel("Distance").fill(taped[i]);
    }
    await page.getByLabel("How good one distance is").fill("5");
  };

  await check("nothing of a taped point is chosen beforehand, and what is missing is asked for beside its field", async () => {
    await open(page, "/record/tape");
    assert.equal(await page.locator(".set-up input:checked").count(), 0);
    const key = page.locator('[data-act="try-point"]');
    await key.click();
    await page.locator(".field-wrong", { hasText: "name the point" }).waitFor();
    await fill(`TP-${stamp}`);
    await key.click();
    await page.locator(".field-wrong", { hasText: "say on which side it lies" }).waitFor();
    await page.locator('.tape-row[data-tape="2"]').getByLabel("Distance").fill("0.010");
    await page.getByText("These two distances do not meet").waitFor();
  });

  await check("a taped point is chosen by touching one of two places, shown with its check before it is recorded, and recorded once", async () => {
    const before = await head();
    await fill(`TP-${stamp}`);
    await page.locator('.tape-row[data-tape="3"]').getByLabel("Distance").blur();
    await page.mouse.click(...await onScreen(page, place));
    assert.equal(await page.getByLabel("left", { exact: true }).isChecked(), true, "touching the place chose no side");
    await page.getByLabel("its level is known").check();
    await page.getByLabel("Level m", { exact: true }).fill("3.100");
    await page.getByLabel("How good it is").fill("5");
    await page.locator('[data-act="try-point"]').click();
    const said = await page.locator('[data-role="point-says"]').innerText();
    const [easting, northing] = said.match(/[\d.]+(?= [EN])/g).map(Number);
    assert.ok(Math.hypot(easting - place[0], northing - place[1]) < 0.01, `${said} for ${place}`);
    assert.ok(said.includes("3.100 m") && /\u00b1 0\.\d{3} m/.test(said), said);
    await page.locator(".station-marks", { hasText: "third distance agrees" }).waitFor();
    assert.equal(await head(), before, "trying was written in the book");
    await page.locator(".record-station").getByLabel("Your name", { exact: false }).fill("Page test");
    await page.locator('[data-act="record-point"]').click();
    await page.locator('.outcome[data-state="sent"]', { hasText: `TP-${stamp}` }).waitFor();
    assert.equal(await head(), before + 1);
    const card = await ask(`/api/sites/${site.id}/points/${encodeURIComponent(`TP-${stamp}`)}`);
    assert.ok(Math.hypot(card.at[0] - place[0], card.at[1] - place[1]) < 0.01);
    assert.deepEqual([...card.measured_from].sort(), [...three].sort());
  });

  await check("a third distance that does not agree is told, and no check is claimed", async () => {
    await fill(`TQ-${stamp}`);
    await page.locator('.tape-row[data-tape="3"]').getByLabel("Distance").fill((Number(taped[2]) + 0.4).toFixed(3));
    await page.getByLabel("left", { exact: true }).check();
    await page.getByLabel("a tape down from a surface").check();
    await page.getByLabel("Below which surface").selectOption({ index: Math.max(surface, 1) });
    await page.getByLabel("Depth, straight down").fill("0.8");
    await page.getByLabel("How good it is").fill("5");
    await page.locator('[data-act="try-point"]').click();
    // Where that surface does not reach, the server says so and nothing is shown.
    await page.locator('[data-role="point-says"], .outcome[data-state="refused"]').first().waitFor();
    if (await page.locator('[data-role="point-says"]').count() === 0) return;
    assert.equal(await page.locator(".station-marks", { hasText: "third distance agrees" }).count(), 0);
    assert.match(await page.locator(".station-answer .findings").first().innerText(), /check tie/);
  });
}
