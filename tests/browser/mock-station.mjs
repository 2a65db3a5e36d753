// The mock's stations: a rough solution from distances alone, shaped like the server's answer. It proves nothing.

const degrees = (text, unit) => {
  if (unit === "dms") {
    const [d, m, s] = text.split(/[^0-9.]+/).filter(Boolean).map(Number);
    return d + m / 60 + s / 3600;
  }
  return unit === "gon" ? Number(text) * 0.9 : Number(text);
};
const r = (v, n = 3) => Math.round(v * 10 ** n) / 10 ** n;
const rad = Math.PI / 180;

/** Least squares of place and turn from distances and directions, leaving one distance out. */
function adjust(used, left) {
  let found = [...[0, 1].map((k) => used.reduce((sum, x) => sum + x.at[k], 0) / used.length + 0.5), 0];
  const misses = ([e, n, o]) => used.flatMap((x, i) => {
    const off = ((Math.atan2(x.at[0] - e, x.at[1] - n) / rad - o - (x.circle ?? 0) + 1260) % 360) - 180;
    return [...(i === left ? [] : [(Math.hypot(e - x.at[0], n - x.at[1]) - x.flat) / 0.002]), ...(x.circle === null ? [] : [(off * 3600) / 10])];
  });
  const start = used.find((x) => x.circle !== null);
  if (start) found[2] = Math.atan2(start.at[0] - found[0], start.at[1] - found[1]) / rad - start.circle;
  for (let turn = 0; turn < 80; turn += 1) {
    const v = misses(found);
    const steps = [1e-5, 1e-5, 1e-6];
    const j = steps.map((h, k) => misses(found.map((p, i) => (i === k ? p + h : p))).map((w, i) => (w - v[i]) / h));
    const m = j.map((r1) => [...j.map((r2) => r1.reduce((sum, w, i) => sum + w * r2[i], 0)), -r1.reduce((sum, w, i) => sum + w * v[i], 0)]);
    for (let i = 0; i < 3; i += 1) for (let k = 0; k < 3; k += 1) if (k !== i) { const f = m[k][i] / m[i][i]; m[k] = m[k].map((w, c) => w - f * m[i][c]); }
    found = found.map((p, i) => p + m[i][3] / m[i][i]);
  }
  return { found, sum: misses(found).reduce((sum, w) => sum + w * w, 0) };
}

/** Gives a StationView, or a sentence when it cannot be solved. */
export function solve(set, control, entry = null) {
  const rows = set.sights.map((s) => {
    const at = control.find((c) => c.point === s.target)?.at;
    const z = degrees(s.zenith ?? "90", set.angles) * rad;
    const slope = Number(s.slope_m ?? 0) + Number(s.prism_mm) / 1000;
    const flat = slope * Math.abs(Math.sin(z));
    return { ...s, at, flat, rise: slope * Math.cos(z) - Number(s.target_height_m) + (0.87 * flat ** 2) / 12742000, circle: s.direction ? degrees(s.direction, set.angles) : null };
  });
  const lost = rows.find((x) => !x.at);
  if (lost) return `${lost.target} is not a control point; import the control list first`;
  const used = rows.filter((x) => x.sighted_as === "control");
  const whole = adjust(used, -1);
  const [e, n, turn] = whole.found;
  // The distance without which the rest agrees best.
  const without = used.map((_, i) => ({ i, ...adjust(used, i) })).sort((x, y) => x.sum - y.sum)[0];
  const bad = whole.sum > 40 ? without.i : -1;
  const blamed = bad < 0 ? null : { target: used[bad].target, mm: (used[bad].flat - Math.hypot(without.found[0] - used[bad].at[0], without.found[1] - used[bad].at[1])) * 1000 };
  const level = used.reduce((sum, x) => sum + x.at[2] - x.rise, 0) / used.length;
  const azimuth = (x) => (Math.atan2(x.at[0] - e, x.at[1] - n) / rad + 360) % 360;
  const orientation = ((turn % 360) + 360) % 360;
  const miss = (x) => x.flat - Math.hypot(e - x.at[0], n - x.at[1]);
  const readings = used.flatMap((x, i) => [
    { point: x.target, what: "direction", residual: r((((azimuth(x) - orientation - x.circle + 900) % 360) - 180) * 3600, 1), unit: "sec", redundancy: 0.48, w: r(i * 0.31 - 0.4, 2), detectable: 31, plan_effect_m: 0.003, rejected: false },
    { point: x.target, what: "slope distance", residual: r(-miss(x) * 1000, 1), unit: "mm", redundancy: i === 0 ? 0 : 0.52, w: i === 0 ? null : r((-miss(x) * 1000) / 2.2, 2), detectable: i === 0 ? null : 12, plan_effect_m: i === 0 ? null : 0.006, rejected: i === bad },
  ]);
  const fits = bad < 0;
  const checks = rows.filter((x) => x.sighted_as === "check").map((x) => {
    const a = (x.circle + orientation) * rad;
    const off = Math.hypot(e + x.flat * Math.sin(a) - x.at[0], n + x.flat * Math.cos(a) - x.at[1]);
    const high = level + x.rise - x.at[2];
    const tolerance = Number(set.tolerance_mm ?? 3) / 1000;
    const outcome = off <= tolerance && Math.abs(high) <= tolerance ? "passed" : "failed";
    return { point: x.target, plan_m: r(off), plan_u95_m: 0.004, level_m: r(high), level_u95_m: 0.003, tolerance_m: tolerance, outcome, says: outcome === "passed" ? "passed" : `failed: ${x.target} is off by ${(off * 1000).toFixed(1)} mm in plan` };
  });
  const check = checks.at(-1)?.outcome ?? "not-done";
  const cause = blamed && `the distance to ${blamed.target} disagrees by ${Math.abs(blamed.mm).toFixed(0)} mm: wrong prism constant or wrong point?`;
  const checkSays = check === "passed" ? `The check passed (${checks.at(-1).point} by ${checks.at(-1).plan_m.toFixed(3)} m).` : check === "failed" ? `The check failed: ${checks.at(-1).point} is off by ${checks.at(-1).plan_m.toFixed(3)} m.` : "No check was made.";
  return {
    format: "coverbook.station/1", station: set.station, says: `${fits ? "The readings agree; the station is known to 0.003 m in plan at 95 %." : `The readings do not agree. Likely: ${cause}`} ${checkSays}`,
    fits, check, unchecked_reason: set.unchecked_reason ?? null, at: [r(e), r(n)], level_m: r(level), u95_h_m: 0.003, u95_v_m: 0.002,
    ellipse: { semi_major_m: 0.003, semi_minor_m: 0.002, azimuth_deg: 62.4 }, orientation_deg: r(orientation, 6), checks,
    control: used.map((x) => ({ point: x.target, at: x.at, rejected: false, shift_m: [0.001, -0.002, 0] })), readings,
    global: { statistic: 4.12, degrees_of_freedom: 5, interval: [0.831, 12.833], accepted: fits }, free_scale_ppm: [4.2, 9.8], grid_scale: 1,
    causes: fits ? [] : [cause, "two points taken for one another"],
    findings: used.length < 3 ? ["4 readings for 3 unknowns leave little check; observe another control point"] : ["all control lies on one side, within 84 degrees; errors grow behind the instrument, add a point there"],
    air_ppm: 0, air_says: "Nobody said what the instrument did about the air; distances are taken as displayed.",
    suspect: [], entries: entry === null ? [] : [entry], revisions: [], geometry: { sector_deg: 84, narrow: false, one_side: true, on_one_line: false, circle: null, why: { circle: "not reckoned" } }, why: {},
  };
}

export const LEVELS = {
  format: "coverbook.levels/1", book: "LB1 yard", says: "It closes (misclosure -2.0 mm against 6.3 mm).", closes: true, misclosure_mm: -2, allowable_mm: 6.3, checks_hold: true,
  sums: ["4.281", "4.190", "1.734", "1.643", "0.091"],
  rows: [["BM 4", null, null, "13.421", "11.982", "11.982"], ["CP1", "0.524", null, "13.811", "12.506", null], ["invert S1", null, "1.643", "13.811", "10.863", null], ["K1", "1.210", null, "13.811", "12.073", "12.075"]]
    .map(([point, rise, fall, collimation, level, known], i) => ({ row: i + 2, point, rise, fall, collimation, level, known_level: known, adjusted_m: Number(level) + i * 0.0005, u95_m: i === 0 ? 0 : 0.002 })),
  findings: [], entry: 9,
};
export const LEVELS_OPEN = { ...LEVELS, book: "LB2 open", says: "It ends on no known level: nothing checks it.", closes: false, misclosure_mm: null, allowable_mm: null, entry: 10, rows: LEVELS.rows.map((x) => ({ ...x, adjusted_m: null, u95_m: null, known_level: null })), findings: ["it ends on a point of unknown level; carry it on to a bench mark"] };
