import assert from "node:assert/strict";
import { test } from "node:test";
import { graduations, spread, staffRange, staffScale } from "../src/staff-scale";

test("a level falls where its share of the staff says", () => {
  const s = staffScale(12, 10, 400);
  assert.equal(s.y(12), 0);
  assert.equal(s.y(11), 200);
  assert.equal(s.y(10), 400);
  assert.equal(s.level(100), 11.5);
});

test("numbers on the staff are round and keep their distance", () => {
  const s = staffScale(12.34, 10.11, 446, 34);
  const levels = graduations(s);
  assert.equal(s.step, 0.2);
  assert.equal(levels[0], 12.2);
  assert.equal(levels.at(-1), 10.2);
  assert.ok(levels.every((l, i) => i === 0 || s.y(l) - s.y(levels[i - 1] as number) >= 34));
});

test("a staff of no height still has one", () => {
  const s = staffScale(5, 5, 100);
  assert.ok(s.bottom < s.top);
  assert.ok(Number.isFinite(s.y(5)));
});

test("labels that do not collide stay where they want to be", () => {
  assert.deepEqual(spread([{ wants: 50, height: 20 }, { wants: 150, height: 20 }], 0, 200), [50, 150]);
});

test("labels that collide part evenly and keep their order", () => {
  const y = spread([{ wants: 100, height: 20 }, { wants: 100, height: 20 }], 0, 200, 4);
  assert.deepEqual(y, [88, 112]);
});

test("no label leaves the staff while there is room, and none overlap", () => {
  const labels = [5, 6, 7, 90, 95, 99, 50].map((wants) => ({ wants, height: 12 }));
  const y = spread(labels, 0, 110, 2);
  const sorted = [...y].sort((a, b) => a - b);
  assert.ok((sorted[0] as number) >= 6 && (sorted.at(-1) as number) <= 104 + 1e-9);
  for (let i = 1; i < sorted.length; i += 1) assert.ok((sorted[i] as number) - (sorted[i - 1] as number) >= 14 - 1e-9);
});

test("when there is no room nothing is dropped", () => {
  const y = spread(Array.from({ length: 10 }, () => ({ wants: 0, height: 20 })), 0, 50, 0);
  assert.deepEqual(y, [10, 30, 50, 70, 90, 110, 130, 150, 170, 190]);
});

test("a staff on which nothing has a level has no range, so no scale is made up", () => {
  assert.equal(staffRange([]), null);
  assert.equal(staffRange([{ min: Number.NaN, max: Number.NaN }]), null);
  const range = staffRange([{ min: 10, max: 11 }, { min: 10.5, max: 12 }]);
  assert.ok(range && range.top > 12 && range.bottom < 10);
});
