// The rounding cases are those of `register::view::rounding`: the page must say what the server says.
import assert from "node:assert/strict";
import { test } from "node:test";
import * as f from "../src/format";

test("a cover of 598 mm never prints 600", () => {
  assert.equal(f.coverText(0.5989), "0.598");
  assert.equal(f.coverText(0.3 * 2), "0.600");
  assert.equal(f.coverText(-0.0004), "\u22120.001");
});

test("an uncertainty is rounded up, and a missing one is said", () => {
  assert.equal(f.plusMinus(0.0041), "\u00b1 0.005");
  assert.equal(f.plusMinus(0.004), "\u00b1 0.004");
  assert.equal(f.plusMinus(null), "\u00b1 not known");
});

test("almost all searched is not all searched", () => {
  assert.equal(f.percentText(99.96), "99 %");
  assert.equal(f.percentText(100), "100 %");
});

test("a service may be met shallower than its least cover by both uncertainties", () => {
  // 0.600 - 0.020 - 0.030, by hand.
  assert.equal(f.metFromDepth(0.6, 0.02, 0.03), 0.55);
  assert.equal(f.metFromDepth(0.5999, 0.02, 0.03), 0.549);
});

test("a depth that hangs on something unknown is not given", () => {
  assert.equal(f.metFromDepth(0.6, null, 0.03), null);
  assert.equal(f.metFromDepth(0.6, 0.02, null), null);
  assert.equal(f.metFromDepth(null, 0.02, 0.03), null);
  assert.equal(f.metFromLevel(12.3, null), null);
});

test("the level a service may be met at is rounded up", () => {
  assert.equal(f.metFromLevel(12.3001, 0.02), 12.321);
});

test("a decimal comma is refused, because it could part two numbers", () => {
  assert.equal(f.decimal("1,25"), null);
  assert.equal(f.decimal("1.25"), 1.25);
  assert.equal(f.decimal("-0.5"), -0.5);
  assert.equal(f.decimal("1e3"), null);
  assert.equal(f.decimal(""), null);
});

test("a time is shown to the minute and a date as it is", () => {
  assert.equal(f.dateWords("2026-03-04T10:15:30.123Z"), "2026-03-04 10:15");
  assert.equal(f.dateWords("2026-03-04"), "2026-03-04");
});

test("lengths carry their unit", () => {
  assert.equal(f.lengthWords(5), "5 m");
  assert.equal(f.lengthWords(0.2), "200 mm");
  assert.equal(f.lengthWords(0.005), "5 mm");
});

test("what stands above the surface has no negative depth", () => {
  // Least cover of -0.1771 m: up to 0.178 above, rounded to the higher side.
  assert.deepEqual(f.depthText(-0.1771), ["0.178", "above"]);
  assert.deepEqual(f.depthText(0.5989), ["0.598", "deep"]);
  assert.deepEqual(f.depthText(0), ["0.000", "deep"]);
});

test("an ellipse is said by both axes, rounded up, and its direction from grid north", () => {
  assert.equal(f.ellipseWords({ semi_major_m: 0.0041, semi_minor_m: 0.0019, azimuth_deg: 45.2 }), "\u00b1 5 by 2\u00a0mm at 95 %, longest toward 045\u00b0");
  assert.equal(f.ellipseWords({ semi_major_m: 0.008, semi_minor_m: 0.008, azimuth_deg: null }), "\u00b1 8\u00a0mm at 95 % every way");
  assert.equal(f.ellipseWords({ semi_major_m: 0.0079, semi_minor_m: 0.0075, azimuth_deg: 12 }), "\u00b1 8\u00a0mm at 95 % every way");
  // An axis toward 180 degrees is the one toward 0.
  assert.equal(f.ellipseWords({ semi_major_m: 0.004, semi_minor_m: 0.002, azimuth_deg: 179.7 }), "\u00b1 4 by 2\u00a0mm at 95 %, longest toward 000\u00b0");
  assert.equal(f.ellipseWords({ semi_major_m: 1.2004, semi_minor_m: 0.3, azimuth_deg: 90 }), "\u00b1 1.201 by 0.300\u00a0m at 95 %, longest toward 090\u00b0");
  assert.equal(f.ellipseWords(null), "\u00b1 not known");
});
