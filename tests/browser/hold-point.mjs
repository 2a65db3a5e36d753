// The hold point: the list, reasons, a photo, a decision, and what stands beside it later.
import assert from "node:assert/strict";

/** Asks for the list of one run. */
export async function askHold(page, { open, known, surface }) {
  await open(page, "/cover/hold");
  await page.getByLabel("Name of the pour").fill("Length 1");
  await page.getByText("Runs by name").click();
  await page.getByLabel("Runs, with a comma").fill(known.run);
  await page.getByLabel("Below which surface").selectOption(surface);
  await page.locator('[data-act="hold"]').click();
  await page.locator('[data-role="left"]').waitFor();
}

/** Runs the checks; `kit` holds what run.mjs has at hand. */
export async function holdChecks(kit) {
  const { check, page, ask, head, open, site, known, surface } = kit;
  const question = { area: "Length 1", runs: [known.run], surface };
  const post = (path, body) => ask(`/api/sites/${site.id}/${path}`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });

  await check("a hold point shows every open item, and is not released while one has no reason", async () => {
    const before = await head();
    await askHold(page, kit);
    const answer = await post("hold", question);
    const unmet = answer.items.filter((i) => i.state !== "passes").map((i) => i.key);
    assert.ok(unmet.length > 1 && unmet.includes(`photo:${known.run}`), unmet.join(" "));
    const shown = await page.locator("[data-item]").evaluateAll((all) => all.map((n) => n.dataset.item));
    assert.deepEqual(shown, unmet);
    await page.locator('[data-act="release"]').click();
    assert.match(await page.locator(".field-wrong:not(:empty)").first().innerText(), /give a reason/);
    assert.equal(await head(), before, "something was written in the book");
  });

  await check("a photo taken there mends its item and nothing that was typed is lost", async () => {
    const first = page.locator("[data-item]").first();
    const firstKey = await first.getAttribute("data-item");
    await first.locator("input.input").last().fill("told by the engineer");
    await page.locator(`[data-item="photo:${known.run}"] summary`).click();
    await page.locator(`[data-item="photo:${known.run}"] input[type=file]`).setInputFiles({ name: "trench.jpg", mimeType: "image/jpeg", buffer: Buffer.from([0xff, 0xd8, 0xff, 0xe0, 0, 16]) });
    const by = page.locator(`[data-item="photo:${known.run}"]`).getByLabel("Your name");
    if (await by.count() > 0 && (await by.inputValue()) === "") {
      await by.fill("Wren Aldous");
      await page.getByRole("button", { name: "Attach trench.jpg" }).click();
    }
    await page.locator(`[data-item="photo:${known.run}"]`).waitFor({ state: "detached" });
    assert.equal(await page.locator(`[data-item="${firstKey}"] input.input`).last().inputValue(), "told by the engineer");
  });

  await check("a release with a reason for every item stands in the book with its certificate", async () => {
    for (const item of await page.locator("[data-item]").all()) {
      if ((await item.getAttribute("open")) === null) await item.locator("summary").click();
      await item.locator("input.input").last().fill("told by the engineer");
    }
    await page.getByLabel("Your name").last().fill("Wren Aldous");
    await page.locator('[data-act="release"]').click();
    await page.locator('[data-role="decided"]').waitFor();
    assert.match(await page.locator('[data-role="decided"]').innerText(), /released with exceptions by Wren Aldous/);
    const link = await page.getByRole("link", { name: "Certificate" }).getAttribute("href");
    const response = await page.request.get(new URL(link, page.url()).href);
    assert.equal(response.headers()["content-type"], "application/pdf");
    const [made] = await ask(`/api/sites/${site.id}/releases`);
    assert.deepEqual([made.area, made.outcome, made.changed], ["Length 1", "released-with-exceptions", []]);
    await open(page, `/run/${encodeURIComponent(known.run)}`);
    assert.match(await page.locator('[data-role="release"]').first().innerText(), /Length 1 released with exceptions/);
  });
}
