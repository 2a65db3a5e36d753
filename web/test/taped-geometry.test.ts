// 3-4-5 triangles, by hand.
import assert from "node:assert/strict";
import { test } from "node:test";
import { meetings, missing, type Tape } from "../src/taped-geometry";

const tape = (e: number, n: number, metres: number): Tape => ({ at: [431000 + e, 5093000 + n], metres });
const near = (a: readonly number[] | undefined, e: number, n: number): void => {
  assert.ok(a && Math.hypot(a[0] as number - 431000 - e, a[1] as number - 5093000 - n) < 1e-6, String(a));
};

test("two tapes meet at two places, left and right of the line from the first mark to the second", () => {
  // From the origin 3 m and from 5 m east of it 4 m: 1.8 m along and 2.4 m off. Looking east, left is north.
  const met = meetings(tape(0, 0, 3), tape(5, 0, 4));
  near(met?.left, 1.8, 2.4);
  near(met?.right, 1.8, -2.4);
  // The marks the other way round: the sides change places.
  near(meetings(tape(5, 0, 4), tape(0, 0, 3))?.left, 1.8, -2.4);
});

test("tapes that do not reach each other meet nowhere, and say by how much", () => {
  assert.equal(meetings(tape(0, 0, 1), tape(5, 0, 2)), null);
  assert.equal(missing(tape(0, 0, 1), tape(5, 0, 2)), 2);
  assert.equal(missing(tape(0, 0, 9), tape(5, 0, 2)), 2);
  assert.equal(missing(tape(0, 0, 3), tape(5, 0, 4)), 0);
  assert.equal(meetings(tape(0, 0, 3), tape(0, 0, 3)), null);
});
