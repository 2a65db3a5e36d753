// Expected values are worked by hand: 3-4-5 triangles, unit squares.
import assert from "node:assert/strict";
import { test } from "node:test";
import { areasAt, inRing, RunIndex } from "../src/hit-test";
import * as p from "../src/project";
import type { MapRun, Triple } from "../src/wire";

test("corners are read as they are pasted, in several habits", () => {
  const wanted = [{ easting: 1.5, northing: 2 }, { easting: 3, northing: 4 }];
  for (const text of ["1.5,2 3,4", "1.5,2;3,4", "1.5, 2\n3, 4\n", "  1.5,2   3,4 "]) {
    assert.deepEqual(p.parseCorners(text), { places: wanted, wrong: null });
  }
});

test("a ring given with its first corner again at the end is one ring", () => {
  assert.equal(p.parseCorners("0,0 1,0 1,1 0,0").places?.length, 3);
});

test("a corner that cannot be read is named", () => {
  assert.match(p.parseCorners("1,2 3;4").wrong ?? "", /^corner 2: "3"/);
  assert.match(p.parseCorners("1,2,3").wrong ?? "", /^corner 1/);
  assert.match(p.parseCorners("a,b").wrong ?? "", /^corner 1/);
});

test("corners go round through their text at national-grid size", () => {
  const places = [{ easting: 431000.123, northing: 5712000.456 }];
  assert.deepEqual(p.parseCorners(p.cornersText(places)).places, places);
});

const at = (e: number, n: number): p.Place => ({ easting: 431000 + e, northing: 5712000 + n });

test("the area of a rectangle is its sides' product, far from the origin too", () => {
  assert.equal(p.ringArea([at(0, 0), at(4, 0), at(4, 3), at(0, 3)]), 12);
  assert.equal(p.ringArea([at(0, 3), at(4, 3), at(4, 0), at(0, 0)]), 12);
});

test("the nearest place on a line is found with its chainage", () => {
  const line: Triple[] = [[0, 0, 9], [3, 4, 9], [3, 14, 9]];
  const on = p.nearestOnLine(line, { easting: 5, northing: 10 });
  assert.equal(on?.distance, 2);
  assert.equal(on?.chainage, 11);
  assert.equal(on?.leg, 1);
  assert.deepEqual(p.atChainage(line, 11), { easting: 3, northing: 10 });
  assert.deepEqual(p.atChainage(line, 99), { easting: 3, northing: 14 });
});

test("a section looks along the longest side, right of it positive", () => {
  const axis = p.longestSide([[0, 0], [10, 0], [10, 2], [0, 2]], true);
  assert.ok(axis);
  assert.deepEqual(p.onAxis(axis, { easting: 4, northing: -1 }), { along: 4, right: 1 });
});

test("steps are 1, 2 or 5 times a power of ten", () => {
  assert.deepEqual([0.03, 0.05, 1, 1.1, 7, 60].map(p.roundStep).map((v) => Number(v.toFixed(9))), [0.05, 0.05, 1, 2, 10, 100]);
});

const run = (name: string, line: Triple[], width = 0.1): MapRun => ({
  run: name, service: "water", line, width_m: width, u95_h_m: [], known: "seen", status: "in-use", ends: ["capped", "capped"],
});

test("a touch finds the nearest run first and nothing out of reach", () => {
  const index = new RunIndex([run("far", [[0, 9, 0], [10, 9, 0]]), run("b", [[0, 1, 0], [10, 1, 0]]), run("a", [[0, 0, 0], [10, 0, 0]])]);
  assert.deepEqual(index.hits({ easting: 5, northing: 0.2 }, 1).map((h) => h.run.run), ["a", "b"]);
  assert.deepEqual(index.hits({ easting: 5, northing: 5 }, 1), []);
});

test("a thick pipe is touched anywhere on its width", () => {
  const index = new RunIndex([run("main", [[0, 0, 0], [10, 0, 0]], 2)]);
  assert.equal(index.hits({ easting: 5, northing: 0.95 }, 0.01).length, 1);
});

test("inside and outside of a ring with a notch", () => {
  const ring: [number, number][] = [[0, 0], [4, 0], [4, 4], [2, 1], [0, 4]];
  assert.equal(inRing(ring, { easting: 2, northing: 0.5 }), true);
  assert.equal(inRing(ring, { easting: 2, northing: 3 }), false);
  assert.equal(areasAt([{ area: "x", ring, services: [], counts: true, says: "" }], { easting: 0.5, northing: 2 }).length, 1);
});
