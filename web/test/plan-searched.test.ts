// What a search clears, and where its words stand. The rule is the register's: one that was for some services, or whose
// finds are not all recorded, leaves the ground hatched (DEVELOPERS.md, "No record is not no service").
import assert from "node:assert/strict";
import { test } from "node:test";
import type { Look } from "../src/plan-scene";
import { searchedForAll, searchWords, wordsAt } from "../src/plan-searched";
import { floorBelow } from "../src/project";
import type { MapArea } from "../src/wire";

const ring: MapArea["ring"] = [[10, 10], [30, 10], [30, 20], [10, 20]];
const area = (services: string[], counts = true): MapArea => ({ area: "yard", ring, services, counts, says: "" });
const letters = (slug: string): string => ({ "electric-lv": "E", "electric-hv": "HV" })[slug] ?? "?";

test("only a counted search for every service clears the hatch", () => {
  assert.equal(searchedForAll(area([])), true);
  assert.equal(searchedForAll(area(["electric-lv"])), false);
  assert.equal(searchedForAll(area(["electric-lv", "electric-hv"])), false);
  assert.equal(searchedForAll(area([], false)), false);
});

test("a search that leaves the hatch says which services it was for, or that it is not counted", () => {
  assert.equal(searchWords(area([]), letters), "");
  assert.equal(searchWords(area(["electric-lv"]), letters), "E only");
  assert.equal(searchWords(area(["electric-lv", "electric-hv"]), letters), "E, HV only");
  assert.equal(searchWords(area([], false), letters), "search not counted");
  assert.equal(searchWords(area(["electric-hv"], false), letters), "HV: search not counted");
});

/** 400 by 300 pixels about a place. */
const look = (easting: number, northing: number, resolution: number): Look =>
  ({ width: 400, height: 300, ratio: 1, easting, northing, resolution, moving: false });

test("the words stand at the first corner while it is in view", () => {
  // 0.1 m a pixel about the middle of the ring: its first corner lies 100 pixels left of the middle and 50 below.
  assert.deepEqual(wordsAt(area(["electric-lv"]), look(20, 15, 0.1)), [104, 196]);
});

test("zoomed in so far that no corner is in view, the words stay on the screen and inside the ring", () => {
  for (const middle of [[20, 15], [11, 15], [29, 15], [20, 19.5], [20, 10.5]] as const) {
    const at = wordsAt(area(["electric-lv"]), look(middle[0], middle[1], 0.005));
    assert.ok(at, `nothing at ${middle}`);
    assert.ok(at[0] >= 0 && at[0] <= 330 && at[1] >= 0 && at[1] <= 300, `${at} at ${middle}`);
    const e = middle[0] + (at[0] - 200) * 0.005;
    const n = middle[1] - (at[1] - 150) * 0.005;
    assert.ok(e >= 10 && e <= 30 && n >= 9.9 && n <= 20.1, `${e}, ${n} is outside the ring`);
  }
});

test("a ring out of view has no words", () => {
  assert.equal(wordsAt(area(["electric-lv"]), look(200, 15, 0.01)), null);
});

test("the staff is asked for a metre or more below every run near, and no level is made up where there is none", () => {
  assert.equal(floorBelow([{ line: [[0, 0, 3.2], [1, 0, 2.9]] }, { line: [[0, 0, -4.3]] }]), -6);
  assert.equal(floorBelow([]), null);
});
