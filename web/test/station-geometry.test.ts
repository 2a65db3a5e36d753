// Circles and sectors by hand: a right angle stands in a half circle (Thales), bearings of a square.
import assert from "node:assert/strict";
import { test } from "node:test";
import { anewSights } from "../src/anew-sights";
import { circleThrough, sectorOf } from "../src/station-geometry";
import type { KnownSight, Pair } from "../src/wire";

const at = (e: number, n: number): Pair => [431000 + e, 5093000 + n];
const degrees = (radians: number): number => Math.round((radians * 180) / Math.PI * 1e6) / 1e6;

test("the circle through a right angle stands on its longest side, far from the origin too", () => {
  const found = circleThrough([at(0, 0), at(6, 0), at(0, 8)]);
  assert.ok(found);
  assert.ok(Math.hypot(found.centre[0] - 431003, found.centre[1] - 5093004) < 1e-6);
  assert.ok(Math.abs(found.radiusM - 5) < 1e-6);
});

test("three places on one line have no circle, nor do three so nearly on one that it would look straight", () => {
  assert.equal(circleThrough([at(0, 0), at(5, 5), at(9, 9)]), null);
  assert.equal(circleThrough([at(0, 0), at(50, 0.001), at(100, 0)]), null);
});

test("the sector goes round through north, and leaves the widest gap out", () => {
  // Bearings 350, 5 and 20 degrees: a sector of 30 degrees.
  const points = [350, 5, 20].map((b) => [431000 + Math.sin((b * Math.PI) / 180), 5093000 + Math.cos((b * Math.PI) / 180)]);
  const found = sectorOf(at(0, 0), points);
  assert.ok(found);
  assert.equal(degrees(found.to - found.from), 30);
  assert.equal(sectorOf(at(0, 0), points.slice(0, 1)), null);
});

const sight = (target: string, direction: string): KnownSight =>
  ({ target, sighted_as: "control", direction, zenith: "90-00-00", slope_m: "10.000", target_height_m: "1.500", prism_mm: "0" });

test("set anew, parts change and figures are put right, and no reading is altered", () => {
  const booked = [sight("A", "0-00-00"), sight("A", "180-00-02"), sight("B", "90-00-00"), sight("C", "200-00-00")];
  const made = anewSights(booked, new Map([["B", "out"], ["C", "check"]]), new Map([["A", { height: "1.6" }], ["C", { prism: "-30" }]]));
  assert.deepEqual(made, [{ ...booked[0], target_height_m: "1.6" }, { ...booked[1], target_height_m: "1.6" }, { ...booked[3], sighted_as: "check", prism_mm: "-30" }]);
});
