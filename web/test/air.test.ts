// Pressures of the standard atmosphere: 1013.25 hPa at the sea, 898.75 at 1000 m, 794.95 at 2000 m, 701.09 at 3000 m
// (tables of ISO 2533 as commonly printed; from memory).
import assert from "node:assert/strict";
import { test } from "node:test";
import { heightOfPressure } from "../src/air";

test("a pressure is told as the height it is usual at", () => {
  for (const [hpa, metres] of [[1013.25, 0], [898.75, 1000], [794.95, 2000], [701.09, 3000]] as const) {
    assert.ok(Math.abs((heightOfPressure(hpa) ?? 9999) - metres) < 2, `${hpa} hPa: ${heightOfPressure(hpa)}`);
  }
});

test("inches or kilopascals are no pressure in hectopascals, and millimetres of mercury tell a height nobody is at", () => {
  assert.equal(heightOfPressure(29.9), null);
  assert.equal(heightOfPressure(101.3), null);
  assert.ok((heightOfPressure(760) ?? 0) > 2000);
});
