// Oracle: the examples in the documentation of the Rust reader (crates/survey/src/angle_text.rs), and plain arithmetic.
import assert from "node:assert/strict";
import { test } from "node:test";
import { dmsText, readAngle, zenithWords } from "../src/angles";

const near = (text: string, unit: Parameters<typeof readAngle>[1], degrees: number): void => {
  const read = readAngle(text, unit);
  assert.ok(read.degrees !== null && Math.abs(read.degrees - degrees) < 1e-9, `${text} in ${unit}: ${read.degrees} ${read.wrong}`);
};

test("one direction written four ways is one direction", () => {
  near("123-45-06.7", "dms", 123.751861111111);
  near("123 45 06.7", "dms", 123.751861111111);
  near("123\u00b045'06.7\"", "dms", 123.751861111111);
  near("123.45067", "packed-dms", 123.751861111111);
  near("123.7519", "degrees", 123.7519);
  near("100", "gon", 90);
  near("400", "gon", 360);
  near("90", "packed-dms", 90);
  near("90.3", "packed-dms", 90.5);
});

test("what is no angle in the stated unit is refused, with another unit named where that is the likely cause", () => {
  assert.match(readAngle("123.75", "packed-dms").wrong ?? "", /another unit/);
  assert.match(readAngle("12-61-00", "dms").wrong ?? "", /minutes of 60/);
  assert.match(readAngle("399", "degrees").wrong ?? "", /beyond the circle/);
  for (const [text, unit] of [["12,5", "degrees"], ["-12", "gon"], ["12-30", "dms"], ["-12-30-00", "dms"], ["", "degrees"], ["1e2", "gon"]] as const) {
    assert.notEqual(readAngle(text, unit).wrong, null, `${text} in ${unit}`);
  }
});

test("angles are said back without a sixtieth second or minute", () => {
  assert.equal(dmsText(123 + 45 / 60 + 6.7 / 3600), "123\u00b0\u00a045\u2032\u00a006.7\u2033");
  assert.equal(dmsText(59.9999999), "60\u00b0\u00a000\u2032\u00a000.0\u2033");
  assert.equal(dmsText(359.9999999), "0\u00b0\u00a000\u2032\u00a000.0\u2033");
});

test("a zenith angle says which way the telescope looked, on either face", () => {
  assert.equal(zenithWords(90), "level");
  assert.equal(zenithWords(92.5), "2.5\u00b0 downward");
  assert.equal(zenithWords(87.5), "2.5\u00b0 upward");
  assert.equal(zenithWords(267.5), "2.5\u00b0 downward, face right");
});
