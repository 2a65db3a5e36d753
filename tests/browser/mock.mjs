// A small stand-in server for working on the page: the same routes, invented data, answers that are shaped like the
// real ones and only roughly worked out. It proves nothing about the program; run.mjs is for a real server.
//
//   node mock.mjs PAGE_FOLDER [PORT] [LEGS]
import { createServer } from "node:http";
import { readFile } from "node:fs/promises";
import { join, normalize } from "node:path";
import { LEVELS, LEVELS_OPEN, solve } from "./mock-station.mjs";
import { sight } from "./readings.mjs";

const [folder, port = "4173", legs = "0"] = process.argv.slice(2);
if (!folder) {
  console.error("say which folder holds the page: node mock.mjs PAGE_FOLDER [PORT] [LEGS]");
  process.exit(64);
}

const E0 = 431200;
const N0 = 5712400;
const style = (slug, letters, name, dash_mm, colour, gravity = false) => ({ slug, letters, name, dash_mm, colour, gravity });
const SERVICES = [
  style("electric-lv", "E", "electric, low voltage", [], "#b34700"), style("electric-hv", "HV", "electric, high voltage", [6, 1, 1, 1], "#b34700"),
  style("comms", "C", "communications", [3, 1.5], "#8a5a00"), style("gas", "G", "gas", [8, 1.5, 1.5, 1.5], "#6b6300"),
  style("water", "W", "potable water", [6, 2], "#005a8c"), style("fire", "F", "fire main", [6, 1, 2, 1], "#a63a00"),
  style("sewer", "S", "sewer", [], "#00614a", true), style("stormwater", "SW", "stormwater", [10, 2], "#1f6f8b", true),
  style("spare", "SP", "spare conduit", [1, 2], "#555555"), style("unknown", "?", "unknown service", [4, 2, 0.6, 2], "#000000"),
];
const serviceOf = (slug) => SERVICES.find((s) => s.slug === slug);
const r3 = (v) => Math.round(v * 1000) / 1000;
const hex = (n) => Array.from({ length: 64 }, (_, i) => ((n * 7 + i * i * 3 + i) % 16).toString(16)).join("");

const ground = (e, n) => r3(12.4 + (e - E0) * 0.008 + Math.sin((n - N0) / 9) * 0.05);
const line = (points, cover) => points.map(([x, y], i) => [E0 + x, N0 + y, r3(ground(E0 + x, N0 + y) - (Array.isArray(cover) ? cover[i] : cover))]);
const runs = [
  { run: "E-board-1", service: "electric-lv", line: line([[2, 6], [14, 6.4], [18, 9], [31, 9.4], [44, 8.8]], [0.62, 0.61, 0.6, 0.58, 0.43]), size: 0.05, u: 0.012, known: "seen-checked", ends: ["enters board house", "capped"], status: "in-use" },
  { run: "HV-ring", service: "electric-hv", line: line([[-6, 24], [20, 23.2], [34, 21], [66, 21.5]], 0.95), size: 0.16, u: 0.03, known: "seen", ends: ["continues-unrecorded", "continues-unrecorded"], status: "in-use" },
  { run: "C-north", service: "comms", line: line([[4, 12], [22, 12.3], [40, 12.9], [55, 12.2]], 0.45), size: 0.1, u: 0.015, known: "seen", ends: ["enters pit 1", "enters pit 2"], status: "in-use" },
  { run: "W-main", service: "water", line: line([[0, 30], [18, 29.6], [37, 30.2], [58, 30.4]], 1.1), size: 0.125, u: 0.02, known: "seen", ends: ["joins W-old", "capped"], status: "in-use" },
  { run: "W-old", service: "water", line: line([[0, 30], [1.2, 36], [10, 41]], 0.9), size: 0.1, u: 0.25, known: "drawn", ends: ["not-stated", "joins W-main"], status: "abandoned" },
  { run: "S-yard", service: "sewer", line: line([[50, 3], [36, 4.2], [24, 16], [12, 34]], [1.05, 1.3, 1.62, 2.0]), size: 0.16, u: 0.01, known: "seen-checked", ends: ["enters pit S1", "enters pit S2"], status: "in-use" },
  { run: "SW-gully", service: "stormwater", line: line([[46, 34], [34, 26], [28, 14], [27, 2]], [0.7, 0.85, 1.0, 1.2]), size: 0.225, u: 0.015, known: "seen", ends: ["enters gully", "continues-unrecorded"], status: "in-use" },
  { run: "G-<img src=x onerror=alert(1)>", service: "gas", line: line([[8, -3], [9, 15], [9.4, 38]], 0.75), size: 0.063, u: null, known: "assumed", ends: ["not-stated", "not-stated"], status: "in-use" },
];
if (Number(legs) > 0) {
  let seed = 7;
  const random = () => (seed = (seed * 48271) % 2147483647) / 2147483647;
  let made = 0;
  while (made < Number(legs)) {
    const count = 5 + Math.floor(random() * 35);
    let [x, y] = [random() * 1200, random() * 1200];
    let turn = random() * 6.3;
    const points = [];
    for (let i = 0; i <= count; i += 1) {
      points.push([x, y]);
      turn += (random() - 0.5) * 0.3;
      const step = 0.8 + random() * 13;
      x += Math.cos(turn) * step;
      y += Math.sin(turn) * step;
    }
    made += count;
    runs.push({ run: `gen-${runs.length}`, service: SERVICES[Math.floor(random() * SERVICES.length)].slug, line: line(points, 0.4 + random()), size: 0.05 + random() * 0.3, u: 0.02, known: random() < 0.7 ? "seen" : "assumed", ends: ["capped", "not-stated"], status: "in-use" });
  }
}
const searched = [
  { area: "east yard, open trench", ring: [[-2, 0], [33, 0], [33, 26], [16, 33], [-2, 33]].map(([x, y]) => [E0 + x, N0 + y]), services: [], counts: true, says: "every service, open trench watched, down to 2.000 m below yard, 2026-03-02, everything found is recorded" },
  { area: "west strip", ring: [[40, 24], [60, 24], [60, 38], [40, 38]].map(([x, y]) => [E0 + x, N0 + y]), services: ["water"], counts: false, says: "water, detector, something found is not recorded" },
];
const control = [["K1", -4, -6], ["K2", 62, -5], ["K3", 61, 42], ["K4", -8, 40]].map(([point, x, y]) => ({ point, at: [E0 + x, N0 + y, 12.4], ellipse: point === "K4" ? null : { semi_major_m: 0.005, semi_minor_m: 0.005, azimuth_deg: null }, u95_v_m: point === "K4" ? null : 0.004, why: point === "K4" ? { ellipse: "its uncertainty was not stated", u95_v_m: "its uncertainty was not stated" } : {} }));
const stations = [];
const DOUBTS = { "C-north": ["station ST0 failed its check at 16:20; shot since the last check that passed"] };
const SURFACE = "yard, finished built, 2026-03-09";

const site = { id: "0193f0aa-1111-7000-8000-00000000c0de", name: "Harbour Row, Skarholm" };
let n = 23;
const opened = [];
const listeners = new Set();
const entries = [];
const head = () => ({ n, hex: hex(n), recorded_at: "2026-03-10T09:12:44.120Z" });
const grow = (kind, says, body = {}, by = "T. Vik") => {
  n += 1;
  entries.unshift({ n, id: `0193f0aa-0000-7000-8000-${String(n).padStart(12, "0")}`, kind, recorded_at: "2026-03-10T09:12:44.120Z", observed_at: "2026-03-10T09:10:00Z", by, device: "page", says, head: hex(n), withdrawn: null, body: { kind, v: 1, ...body } });
  for (const tell of listeners) tell();
};
{
  const at = [E0 + 20, N0 + 2, 12.9];
  const sights = control.map((c, i) => ({ target: c.point, sighted_as: i === 3 ? "check" : "control", target_height_m: "1.500", prism_mm: "0", ...(({ direction, zenith, slope }) => ({ direction: String(direction), zenith: String(zenith), slope_m: String(slope + (i === 3 ? 0.031 : 0)) }))(sight(at, 30, c.at, 1.5)) }));
  stations.push({ ...solve({ station: "ST0", angles: "degrees", sights, unchecked_reason: "the gate post was knocked after the pour" }, control, 8), suspect: ["C3", "C4"] });
}
for (let i = 1; i <= 23; i += 1) {
  const kind = i === 1 ? "SiteOpened" : i < 4 ? "ControlRecorded" : i % 3 === 0 ? "RunLaid" : "PointsRecorded";
  entries.unshift({ n: i, id: `0193f0aa-0000-7000-8000-${String(i).padStart(12, "0")}`, kind, recorded_at: `2026-03-0${1 + (i % 8)}T08:1${i % 10}:00.000Z`, observed_at: "2026-03-02T08:10:00Z", by: i % 2 ? "T. Vik" : "A. Moen", device: "page", says: kind === "SiteOpened" ? "Harbour Row, Skarholm opened" : kind === "RunLaid" ? `run ${runs[i % runs.length].run} laid through 4 points` : `${8 + i} points recorded from shots.csv`, head: hex(i), withdrawn: i === 7 ? "entry 9: pole height was 2.000, booked 1.300" : null, body: { kind, v: 1, points: runs[i % 8].line.map((p, k) => ({ point: `${runs[i % 8].service[0].toUpperCase()}${i}${k}`, easting_m: p[0].toFixed(3), northing_m: p[1].toFixed(3), level_m: p[2].toFixed(3), touched: "outside-top" })) } });
}
const rules = { id: "skarholm-1", title: "Skarholm works rules, 2nd edition", sha256: hex(3), entry: 4, says: "Figures confirmed by A. Moen. Local codes and licensed practice govern." };
const surfaces = () => [{ name: "yard", kind: "finished-built", shape: "tin", observed_at: "2026-03-09T00:00:00Z", u95_m: 0.014, points: 212, level_m: null, largest_residual_m: null, entry: 12 }, { name: "yard design", kind: "finished-design", shape: "level", observed_at: "2026-01-20T00:00:00Z", u95_m: null, points: 0, level_m: 12.5, largest_residual_m: null, entry: 5 }];
const CAUTIONS = [
  "Shows only what was measured and entered. Nothing drawn is not proof of nothing there; outside the searched area nothing is known.",
  "Positions are as measured on the dates and control shown. Ground, slabs and services may have changed since.",
  "Measure down from a level, not from today's dirt: each depth is below the surface and date named with it.",
  "Detect on site, then expose by hand or vacuum and see the service before any machine works in the zone.",
  "Treat every service as live, pressurised and in use: abandoned, empty and unknown ones too.",
];
const siteView = () => ({ format: "coverbook.site/1", id: site.id, name: site.name, head: head(), grid: { epsg: 25832, name: "ETRS89 / UTM zone 32N", distances: "grid", level_datum: "Skarholm harbour datum", bench_mark: "BM 4, quay bolt, 11.982" }, origin: [E0, N0], contact: "harbour office", rules, read_only: null, surfaces: surfaces(), counts: { points: 148, runs: runs.length, legs: runs.reduce((s, r) => s + r.line.length - 1, 0), expected: 9, searched: searched.length, control: control.length, stations: stations.length }, cautions: [] });
const mapView = () => {
  const all = runs.flatMap((r) => r.line);
  const lo = (k) => Math.min(...all.map((p) => p[k])) - 4;
  const hi = (k) => Math.max(...all.map((p) => p[k])) + 4;
  return { format: "coverbook.map/1", head: head(), min: [lo(0), lo(1)], max: [hi(0), hi(1)], runs: runs.map((r) => ({ run: r.run, service: r.service, line: r.line, width_m: r.size, u95_h_m: r.u === null ? [] : r.line.map(() => r.u), known: r.known, status: r.status, doubts: DOUBTS[r.run] ?? [], ends: r.ends })), searched, control, points: runs.flatMap(pointsOf), surfaces: [{ name: "yard", ring: [[-12, -10], [70, -10], [70, 46], [-12, 46]].map(([x, y]) => [E0 + x, N0 + y]) }] };
};
const chainages = (l) => l.reduce((list, p, i) => { list.push(i === 0 ? 0 : r3(list[i - 1] + Math.hypot(p[0] - l[i - 1][0], p[1] - l[i - 1][1]))); return list; }, []);
/** An ellipse half as wide as long, turned a little further at each point. */
const ellipseOf = (u, i) => (u === null ? null : { semi_major_m: u, semi_minor_m: r3(u / 2), azimuth_deg: (35 * i + 20) % 180 });
const pointsOf = (r) => r.line.map((p, i) => ({ point: `${r.run.slice(0, 1)}${i + 1}`, at: p, ellipse: ellipseOf(r.u, i), u95_v_m: r.u, assumed: r.known === "drawn", why: r.u === null ? { ellipse: "no uncertainty was stated, and no class default counts", u95_v_m: "no uncertainty was stated, and no class default counts" } : {} }));
const legsOf = (r) => {
  const c = chainages(r.line);
  return r.line.slice(1).map((p, i) => {
    const cover = r3(Math.min(ground(p[0], p[1]) - p[2], ground(r.line[i][0], r.line[i][1]) - r.line[i][2]));
    const worst = r.u === null ? null : r3(cover - r.u - 0.014);
    const drop = r3(r.line[i][2] - p[2]);
    const length = r3(c[i + 1] - c[i]);
    return { from: `${r.run.slice(0, 1)}${i + 1}`, to: `${r.run.slice(0, 1)}${i + 2}`, length_m: length, least_cover_m: cover, worst_cover_m: worst, at_chainage_m: c[i + 1], riser: false, unshot_m: 0, unshot_says: null, fall: serviceOf(r.service).gravity ? { drop_m: drop, drop_u95_m: 0.014, percent: 1.66, percent_u95: 0.05, one_in: 60, wrong_way: drop < 0, verdict: drop < 0 ? "short" : "met", says: "1:60 (1.66 %) \u00b1 0.05 %" } : null, cover_verdict: worst === null ? "not-proved" : worst >= 0.6 ? "met" : cover < 0.6 ? "short" : "not-proved", why: worst === null ? { worst_cover_m: "no uncertainty is stated for these points" } : {}, known: r.known };
  });
};
const card = (r) => {
  const c = chainages(r.line);
  return { format: "coverbook.run/1", run: r.run, service: r.service, letters: serviceOf(r.service).letters, section: `${r.size * 1000} mm outside, PVC`, outside_m: r.size, section_assumed: r.size === 0.1, status: r.status, known: r.known, ends: r.ends, owner: null, note: null, below: SURFACE, vertices: r.line.map((p, i) => { const g = ground(p[0], p[1]); return { point: `${r.run.slice(0, 1)}${i + 1}`, measured: [p[0].toFixed(3), p[1].toFixed(3), p[2].toFixed(3)], how: "sighted from station S1", touched: "outside-top", chainage_m: c[i], axis: [p[0], p[1], r3(p[2] - r.size / 2)], top_level_m: p[2], invert_level_m: r.size > 0.12 ? r3(p[2] - r.size + 0.004) : null, u95_h_m: r.u, ellipse: ellipseOf(r.u, i), u95_v_m: r.u, u95_assumed: r.known === "drawn", doubts: i > 1 ? DOUBTS[r.run] ?? [] : [], known: r.known, surface_level_m: g, cover_m: r3(g - p[2]), cover_u95_m: r.u === null ? null : r3(Math.hypot(r.u, 0.014)), depth_to_invert_m: r.size > 0.12 ? r3(g - p[2] + r.size) : null, observed_at: "2026-03-02T10:04:00Z", by: "T. Vik", entry: 11, why: r.size > 0.12 ? {} : { invert_level_m: "the wall is not known" } }; }), legs: legsOf(r), length_m: c.at(-1), bow_m: null, findings: r.known === "assumed" ? ["backfilled before measuring: the line is assumed"] : [], entries: [11, 9], why: {} };
};
const separationView = () => {
  const [a, b] = [runs[0], runs[1]];
  const p = a.line[1];
  const at = { points: [p, p], chainage_m: [4.2, 6.3] };
  const place = (verdict, kind, extra) => ({ runs: [a.run, b.run], services: [a.service, b.service], letters: [serviceOf(a.service).letters, serviceOf(b.service).letters], kind, verdict, says: `${verdict}: 0.070 m as recorded, 0.040 m at 95 %`, above: kind === "crossing" ? a.run : null, gap_m: 0.07, worst_gap_m: 0.04, horizontal_gap_m: kind === "crossing" ? 0 : 0.07, worst_horizontal_gap_m: kind === "crossing" ? 0 : 0.04, vertical_gap_m: kind === "crossing" ? 0.07 : null, worst_vertical_gap_m: kind === "crossing" ? 0.04 : null, measure: "3d", rule: { id: "apart.3d", minimum: 0.1, source: "Skarholm works rules, 2nd ed., 6.1", status: "seen" }, unless: ["the wiring is separately enclosed"], place: p, at: { gap_m: at, horizontal_gap_m: at, vertical_gap_m: at }, along_m: [[4, 5], [6, 7]], why: kind === "crossing" ? {} : { vertical_gap_m: "neither lies over the other, seen in plan", above: "neither lies over the other" }, ...extra });
  return { verdict: "short", says: "Of 2 places where recorded runs meet: 1 short, 1 met.", summary: { met: 1, joins: 0, not_proved: 0, short: 1 }, places: [place("short", "crossing", {}), place("met", "side-by-side", {})], not_listed: 0, not_placed: [], without_figure: [], joint_m: 0.5, beyond_m: 0.5 };
};
const coverView = () => {
  const list = runs.slice(0, 8).map((r) => {
    const l = legsOf(r);
    const least = Math.min(...l.map((x) => x.least_cover_m));
    const order = ["short", "not-proved", "met"];
    const verdict = order.find((v) => l.some((x) => x.cover_verdict === v));
    return { run: r.run, service: r.service, letters: serviceOf(r.service).letters, verdict, says: `least cover ${least.toFixed(3)} m against 0.600 m`, cover_verdict: verdict, fall_verdict: serviceOf(r.service).gravity ? "met" : null, least_cover_m: least, worst_cover_m: r.u === null ? null : r3(least - r.u - 0.014), at_chainage_m: 4.2, at: [r.line[0][0], r.line[0][1]], cover_unknown_m: 0, rule: { id: "cover.conduit", minimum: 0.6, source: "Skarholm works rules, 2nd ed., 4.2", status: "second-hand, confirmed by A. Moen" }, fall_rule: null, legs: l, emerges_at_m: [], longest_leg_m: Math.max(...l.map((x) => x.length_m)), bow_m: null, findings: [], why: r.u === null ? { worst_cover_m: "no uncertainty is stated for these points" } : {} };
  }).sort((a, b) => ["short", "missing", "not-proved", "met"].indexOf(a.verdict) - ["short", "missing", "not-proved", "met"].indexOf(b.verdict));
  const sum = (v) => list.filter((x) => x.verdict === v).length;
  const sewer = runs.find((r) => r.run === "S-yard");
  const c = chainages(sewer.line);
  return { format: "coverbook.cover/1", site: site.name, head: head(), below: SURFACE, rules, verdict: "short", says: "Not ready to cover: 2 runs are short, 1 expected run is missing, 1 is not proved.", summary: { met: sum("met"), short: sum("short"), not_proved: sum("not-proved"), missing: 1 }, runs: list, expected: [{ run: "E-board-1", service: "electric-lv", from: "board", to: "pump", recorded: true, says: "recorded as expected" }, { run: "E-spare", service: "spare", from: "board", to: "gate", recorded: false, says: "expected and not recorded" }], gaps: [{ code: "end-not-stated", about: "G", says: "how the gas run ends was not stated; look, and say" }, { code: "bend-not-shot", about: "E-board-1", says: "turns 34 degrees at E3 with no bend shot" }], inverts: sewer.line.map((p, i) => ({ run: sewer.run, point: `S${i + 1}`, chainage_m: c[i], invert_level_m: r3(p[2] - 0.156), u95_m: 0.01, depth_to_invert_m: r3(ground(p[0], p[1]) - p[2] + 0.156), fall_to_next: legsOf(sewer)[i]?.fall ?? null, why: {} })), separation: separationView(), cautions: CAUTIONS, why: {} };
};
const inside = (ring, x, y) => ring.reduce((hit, [xi, yi], i) => { const [xj, yj] = ring[(i + ring.length - 1) % ring.length]; return (yi > y) !== (yj > y) && x < ((xj - xi) * (y - yi)) / (yj - yi) + xi ? !hit : hit; }, false);
const digView = (q) => {
  let ring = q.area;
  if (q.line) {
    const [a, b] = [q.line[0], q.line.at(-1)];
    const l = Math.hypot(b[0] - a[0], b[1] - a[1]);
    const [x, y] = [(-(b[1] - a[1]) / l) * q.width_m / 2, ((b[0] - a[0]) / l) * q.width_m / 2];
    ring = [[a[0] + x, a[1] + y], [b[0] + x, b[1] + y], [b[0] - x, b[1] - y], [a[0] - x, a[1] - y]];
  }
  const xs = ring.map((p) => p[0]);
  const ys = ring.map((p) => p[1]);
  const box = [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
  const levels = ring.map((p) => ground(p[0], p[1]));
  const [lo, hi] = [Math.min(...levels), Math.max(...levels)];
  const floor = q.floor_level_m ?? null;
  const found = [];
  for (const r of runs) {
    const part = [];
    for (let i = 1; i < r.line.length; i += 1) {
      const [a, b] = [r.line[i - 1], r.line[i]];
      const kept = [];
      for (let k = 0; k <= 60; k += 1) {
        const p = [0, 1, 2].map((d) => r3(a[d] + ((b[d] - a[d]) * k) / 60));
        if (p[0] > box[0] - 2 && p[0] < box[2] + 2 && p[1] > box[1] - 2 && p[1] < box[3] + 2) kept.push(p);
      }
      if (kept.length > 1) part.push({ from_m: 0, to_m: 1, line: [kept[0], kept.at(-1)] });
    }
    if (part.length === 0) continue;
    const pts = part.flatMap((p) => p.line);
    const covers = pts.map((p) => ground(p[0], p[1]) - p[2]);
    const gap = Math.max(0, Math.min(...pts.map((p) => Math.max(box[0] - p[0], p[0] - box[2], box[1] - p[1], p[1] - box[3]))));
    const tops = pts.map((p) => p[2]);
    const vgap = r3((q.depth_m ? lo - q.depth_m : floor) - Math.max(...tops));
    const verdict = r.u === null ? "not-placed" : gap === 0 && vgap < 0 ? "in-the-way" : gap < 0.5 ? "hand-dig" : "near";
    const mid = pts[Math.floor(pts.length / 2)];
    found.push({ site: site.name, head: `${n}:${hex(n)}`, run: r.run, service: r.service, letters: serviceOf(r.service).letters, section: `${r.size * 1000} mm outside, PVC`, outside_m: r.size, status: r.status, verdict: rules ? verdict : null, known: r.known, gap_m: r3(gap), worst_gap_m: r.u === null ? null : r3(Math.max(0, gap - r.u)), horizontal_gap_m: r3(gap), worst_horizontal_gap_m: r.u === null ? null : r3(Math.max(0, gap - r.u)), vertical_gap_m: -vgap < 0 ? r3(vgap) : r3(vgap), worst_vertical_gap_m: r.u === null ? null : r3(vgap - r.u), overlap_m: gap === 0 ? 3.2 : 0, cover_m: { min: r3(Math.min(...covers)), max: r3(Math.max(...covers)) }, top_level_m: { min: Math.min(...tops), max: Math.max(...tops) }, u95_h_m: r.u, u95_v_m: r.u, unshot_m: 0, unshot_says: null, bow_m: null, at: { gap_m: { on_run: mid, on_dig: mid, chainage_m: 4 } }, rule: rules ? { id: "dig.hand-zone", minimum: 0.5, source: "Skarholm works rules, 2nd ed., 7.1", status: "seen" } : null, observed_at: "2026-03-02T10:04:00Z", part, cautions: r.status === "abandoned" ? ["abandoned: treat as live"] : [], says: `${serviceOf(r.service).name} ${r.run}: top outside between ${Math.min(...tops).toFixed(3)} and ${Math.max(...tops).toFixed(3)}, ${r.known.replace("-", " and ")}`, why: r.u === null ? { u95_v_m: "no uncertainty is stated for its points", worst_gap_m: "no uncertainty is stated for its points" } : {} });
  }
  const steps = 24;
  let counted = 0;
  for (let i = 0; i < steps; i += 1) for (let k = 0; k < steps; k += 1) if (inside(searched[0].ring, box[0] + ((i + 0.5) / steps) * (box[2] - box[0]), box[1] + ((k + 0.5) / steps) * (box[3] - box[1]))) counted += 1;
  const share = Math.floor((counted / steps ** 2) * 100);
  const edge = E0 + 33;
  const unsearched = share === 100 ? [] : share === 0 ? [[ring]] : [[[[Math.max(box[0], edge), box[1]], [box[2], box[1]], [box[2], box[3]], [Math.max(box[0], edge), box[3]]]]];
  return { format: "coverbook.dig/1", site: site.name, head: head(), as_at: "2026-03-10T00:00:00Z", dig: { kind: "open", plan: [ring], line: q.line ?? null, width_m: q.width_m ?? null, depth_m: q.depth_m ?? null, floor_level_m: floor, floor_levels_m: q.depth_m ? { min: r3(lo - q.depth_m), max: r3(hi - q.depth_m) } : { min: floor, max: floor }, surface: SURFACE, surface_levels_m: { min: lo, max: hi }, surface_u95_m: 0.014, batter: q.batter ?? null, over_dig_m: 0.1, set_out_m: 0.05, allowances_assumed: true, area_m2: 12, why: {} }, says: share === 100 ? "All of this dig was searched; that speaks for the day and depth of the search and for nothing since." : `${100 - share} % of this dig was never searched: what lies there is not known.`, searched: { share, by_service: Object.fromEntries(SERVICES.slice(0, 7).map((s) => [s.slug, { share, oldest: share ? "2026-03-02" : null, says: [] }])), unsearched, not_counted: share < 100 ? ["west strip: something found there was not recorded"] : [] }, floor_unknown_area_m2: 0, runs: found, not_compared: [], rules, cautions: CAUTIONS, why: rules ? {} : { rules: "no rule set is adopted" } };
};

const importView = (url, text) => {
  const ask = Object.fromEntries(url.searchParams);
  const rows = text.trim().split(/\r?\n/).map((l) => [...l.matchAll(/(?:^|,)(?:"((?:[^"]|"")*)"|([^,]*))/g)].map((m) => m[1]?.replaceAll('""', '"') ?? m[2] ?? ""));
  const named = rows[0].some((c) => /easting/i.test(c));
  const names = named ? rows[0].map((c) => c.trim().toLowerCase()) : ask.order ? ask.order.split(",") : null;
  const data = named ? rows.slice(1) : rows;
  const get = (row, name) => row[names.indexOf(name)]?.trim();
  const findings = [];
  const points = [];
  if (names) {
    data.forEach((row, i) => {
      const at = ["easting", "northing", "level"].map((c) => Number(get(row, c)));
      if (at.some((v) => !Number.isFinite(v))) findings.push({ code: "not-a-number", severity: "refusal", file: ask.file, row: i + 1 + (named ? 1 : 0), column: "level", says: `"${get(row, "level")}" is not a number; write it with a point for decimals` });
      else points.push({ point: get(row, "point") ?? `row ${i + 1}`, at, row: i + 2, touched: get(row, "touched") ?? null, run: get(row, "run") ?? null });
    });
  }
  const byRun = new Map();
  for (const p of points) if (p.run) byRun.set(p.run, [...(byRun.get(p.run) ?? []), p]);
  const accepted = Boolean(names) && findings.length === 0;
  return { format: "coverbook.import/1", kind: ask.as, file: ask.file, sha256: hex(5), accepted, says: !names ? `${ask.file} has no header: say which column is which` : accepted ? `${points.length} points would be recorded and ${byRun.size} runs laid` : `${findings.length} rows cannot be read; nothing can be recorded until they are mended`, columns: rows[0].map((c, i) => ({ header: named ? c : `column ${i + 1}`, read_as: names ? names[i] : null, samples: data.slice(0, 3).map((r) => r[i] ?? "") })), order_needed: !names, rows: data.length, min: points.length ? [0, 1, 2].map((k) => Math.min(...points.map((p) => p.at[k]))) : null, max: points.length ? [0, 1, 2].map((k) => Math.max(...points.map((p) => p.at[k]))) : null, points, runs: [...byRun].map(([run, list]) => ({ run, service: "water", points: list.length, line: list.map((p) => p.at) })), findings, findings_left_off: 0, refusals: findings.length, doubts: 0, import_id: null, entries: 0 };
};

const CSP = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; font-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
const TYPES = { html: "text/html; charset=utf-8", js: "text/javascript", css: "text/css", woff2: "font/woff2", svg: "image/svg+xml", txt: "text/plain; charset=utf-8" };
const body = async (request) => {
  const parts = [];
  for await (const part of request) parts.push(part);
  return Buffer.concat(parts).toString("utf8");
};

createServer(async (request, response) => {
  const url = new URL(request.url, "http://mock");
  const json = (value, status = 200) => {
    response.writeHead(status, { "content-type": "application/json" });
    response.end(JSON.stringify(value));
  };
  const refuse = (status, code, message, where = null) => json({ code, message, where }, status);
  const path = url.pathname.split("/").filter(Boolean).map(decodeURIComponent);
  if (path[0] !== "api") {
    const name = path.length === 0 ? "index.html" : normalize(path.join("/")).replace(/^(\.\.[/\\])+/, "");
    try {
      const bytes = await readFile(join(folder, name));
      response.writeHead(200, { "content-type": TYPES[name.split(".").pop()] ?? "application/octet-stream", "content-security-policy": CSP });
      response.end(bytes);
    } catch {
      response.writeHead(404, { "content-type": "text/plain" });
      response.end("not here");
    }
    return;
  }
  if (path[1] === "services") return json(SERVICES);
  if (path[1] === "rules") return json([{ id: "skarholm-1", title: "Skarholm works rules", jurisdiction: "Skarholm", figures: [{ id: "cover.conduit", says: "cover to conduit at least 0.600 m", source: "2nd ed., 4.2", status: "second-hand" }, { id: "dig.hand-zone", says: "hand zone 0.500 m in plan", source: "2nd ed., 7.1", status: "seen" }] }]);
  if (path[1] !== "sites") return refuse(404, "not-found", "no such route");
  if (path.length === 2) {
    if (request.method === "POST") {
      const asked = JSON.parse(await body(request));
      opened.push(asked.name);
      return json({ ...siteView(), name: asked.name });
    }
    return json([{ ...site, head: head() }, { id: site.id, name: "Ferry slip, Skarholm", head: { n: 0, hex: hex(0), recorded_at: null } }]);
  }
  if (path[2] !== site.id) return refuse(404, "no-such-site", `no site ${path[2]}; open one, or choose from the list`);
  const what = path[3];
  if (what === undefined) return json(siteView());
  if (what === "map") return json(mapView());
  if (what === "cover") return json(coverView());
  if (what === "verify") return json({ format: "coverbook.verify/1", site: site.name, head: head(), holds: true, faults: [], proven: [`${n} entries follow one another unbroken`, "every cached row is what a replay gives"], not_proven: ["that the newest entries were not cut off: compare the head with one on a sheet"] });
  if (what === "journal") {
    const before = Number(url.searchParams.get("before") ?? Infinity);
    const limit = Number(url.searchParams.get("limit") ?? 40);
    return json({ format: "coverbook.journal/1", head: head(), entries: entries.filter((e) => e.n < before).slice(0, limit) });
  }
  if (what === "events") {
    response.writeHead(200, { "content-type": "text/event-stream", "cache-control": "no-store" });
    const tell = () => response.write(`event: head\ndata: ${JSON.stringify({ n, hex: hex(n) })}\n\n`);
    tell();
    listeners.add(tell);
    request.on("close", () => listeners.delete(tell));
    return undefined;
  }
  if (what === "runs" && request.method === "GET") {
    const found = runs.find((r) => r.run === path[4]);
    return found ? json(card(found)) : refuse(404, "no-such-run", `no run ${path[4]}`);
  }
  if (what === "stations" && request.method === "GET") return json(stations);
  if (what === "levels") return json([LEVELS, LEVELS_OPEN]);
  if (what === "export") return json({ type: "FeatureCollection", features: [] });
  const text = await body(request);
  if (what === "dig") {
    const q = JSON.parse(text);
    if ((q.area ?? q.line ?? []).length < 2) return refuse(400, "area", "the area needs three corners; give them as E,N");
    return json(digView(q));
  }
  if (what === "sheet") {
    response.writeHead(200, { "content-type": "application/pdf" });
    return response.end("%PDF-1.4\n%mock\n");
  }
  if (what === "import") {
    const view = importView(url, text);
    if (view.kind === "observations") {
      const [names, ...lines] = text.trim().split(/\r?\n/).map((l) => l.split(","));
      const sights = lines.map((l) => Object.fromEntries(names.map((name, i) => [name, l[i]]))).map((x) => ({ ...x, sighted_as: x.kind, slope_m: x.slope, target_height_m: x.target_height }));
      const station = solve({ station: url.searchParams.get("station"), angles: url.searchParams.get("angles"), sights }, control);
      Object.assign(view, { accepted: true, findings: [], order_needed: false, points: [], runs: [], says: `1 station would be set from ${view.rows} readings`, station });
    }
    if (view.kind === "levels") Object.assign(view, { accepted: true, findings: [], order_needed: false, says: `${view.rows} rows would be recorded`, levels: { ...LEVELS, book: url.searchParams.get("book"), entry: null } });
    if (url.searchParams.get("dry_run")) return json(view);
    if (!view.accepted) return refuse(422, "refused", view.says, { file: view.file, row: 2, column: "level" });
    for (const r of view.runs) runs.push({ run: r.run, service: "water", line: r.line, size: 0.1, u: 0.02, known: "seen", ends: ["capped", "capped"], status: "in-use" });
    grow("PointsRecorded", `${view.points.length} points recorded from ${view.file}`);
    return json({ ...view, says: `${view.points.length} points recorded, ${view.runs.length} runs laid`, import_id: site.id, entries: 2 });
  }
  const asked = JSON.parse(text);
  if (what === "stations") {
    const view = solve(asked, control, path[4] === "try" ? null : n + 1);
    if (typeof view === "string") return refuse(422, "station", view);
    if (path[4] === "try") return json(view);
    if (view.check !== "passed" && !asked.unchecked_reason) return refuse(422, "station-unchecked", "no check was passed; mend it, or say why it is used all the same");
    const before = stations.findIndex((s) => s.station === view.station);
    if (before >= 0) stations.splice(before, 1);
    stations.push(view);
    grow("StationSet", `station ${view.station} set`, {}, asked.by);
    return json(view);
  }
  if (what === "runs") {
    if (runs.some((r) => r.run === asked.run)) return refuse(409, "name-taken", `run ${asked.run} is already laid; give another name or amend it`);
    const rows = new Map(entries.flatMap((e) => (e.body.points ?? []).map((p) => [p.point, p])));
    const missing = asked.points.find((p) => !rows.has(p));
    if (missing) return refuse(422, "no-such-point", `point ${missing} is not recorded; import it first`);
    const made = { run: asked.run, service: asked.service, line: asked.points.map((p) => ["easting_m", "northing_m", "level_m"].map((k) => Number(rows.get(p)[k]))), size: 0.1, u: 0.02, known: "seen", ends: ["capped", "capped"], status: "in-use" };
    runs.push(made);
    grow("RunLaid", `run ${asked.run} laid`, {}, asked.by);
    return json(card(made));
  }
  if (what === "withdraw") {
    const entry = entries.find((e) => e.n === asked.entry || e.id === asked.entry);
    if (!entry) return refuse(404, "no-such-entry", `no entry ${asked.entry}`);
    grow("EntryWithdrawn", `entry ${entry.n} withdrawn: ${asked.reason}`, {}, asked.by);
    entry.withdrawn = `entry ${n}: ${asked.reason}`;
    return json(siteView());
  }
  if (what === "searched") searched.push({ area: asked.area, ring: asked.ring.map((p) => p.map(Number)), services: asked.services ?? [], counts: asked.outcome === "all-found-recorded", says: asked.method });
  if (["searched", "surfaces", "rules"].includes(what)) {
    grow(what === "searched" ? "AreaSearched" : what === "rules" ? "RulesAdopted" : "SurfaceRecorded", `${what} recorded`, {}, asked.by);
    return json(siteView());
  }
  return refuse(404, "not-found", "no such route");
}).listen(Number(port), "127.0.0.1", () => console.log(`mock at http://127.0.0.1:${port}`));
