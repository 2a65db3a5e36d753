// Oracle: what the issue asks of the set-up screen (three find the station, the fourth is kept as check; a bad paste changes nothing).
import assert from "node:assert/strict";
import { test } from "node:test";
import { addTarget, chosenWords, emptyDraft, pasteReadings } from "../src/station-draft";
import { enlargement } from "../src/plan-station";

const known = new Set(["A", "B", "C", "D", "E"]);

test("three points find the station, the fourth is kept as check, a fifth helps to find it", () => {
  const draft = emptyDraft();
  for (const p of ["A", "B", "C", "D", "E"]) addTarget(draft, p);
  assert.deepEqual(draft.targets.map((t) => t.sightedAs), ["control", "control", "control", "check", "control"]);
  assert.match(chosenWords(draft.targets.slice(0, 3)), /none kept as check/);
  assert.match(chosenWords(draft.targets), /4 to find the station, 1 kept as check/);
});

test("pasted lines fill the readings, in the usual order or by a header, two faces under one point", () => {
  const draft = emptyDraft();
  assert.equal(pasteReadings(draft, "A\t10-00-00\t90-00-00\t12.345\t1.5\t0\tleft\nA\t190-00-00\t270-00-00\t12.346\t1.5\t0\tright", known), null);
  assert.deepEqual(draft.targets[0], {
    target: "A", sightedAs: "control", height: "1.5", prism: "0",
    sights: [{ direction: "10-00-00", zenith: "90-00-00", slope: "12.345", face: "left" }, { direction: "190-00-00", zenith: "270-00-00", slope: "12.346", face: "right" }],
  });
  assert.equal(pasteReadings(draft, "slope;point;direction;as\n7.5;B;20-00-00;check", known), null);
  assert.equal(draft.targets[1]?.sightedAs, "check");
  assert.equal(draft.targets[1]?.sights[0]?.slope, "7.5");
  assert.equal(draft.targets[1]?.prism, "", "a column that was not given stays blank, it does not become nought");
});

test("a paste with a fault names its line and changes nothing", () => {
  const draft = emptyDraft();
  assert.match(pasteReadings(draft, "A 10 90 12 1.5 0\nZ 10 90 12 1.5 0", known) ?? "", /line 2: Z is no control point/);
  assert.match(pasteReadings(draft, "A 10 90 12 1.5 0 upside", known) ?? "", /line 1: face upside/);
  assert.match(pasteReadings(draft, "A 10 00 00 90 00 00 12.3 1.5 0", known) ?? "", /line 1 has 10 columns/);
  assert.deepEqual(draft.targets, []);
});

test("an ellipse is never drawn smaller than true, and its factor is a round number", () => {
  assert.equal(enlargement(2, 0.01), 1);
  for (const [axis, resolution] of [[0.0013, 0.1], [0.004, 0.03], [0.02, 0.5]] as const) {
    const times = enlargement(axis, resolution);
    const pixels = (axis * times) / resolution;
    assert.ok(pixels <= 56 && pixels > 56 / 2.51, `${pixels}`);
    assert.match(String(times), /^[125]0*$/);
  }
});
