// Stations on the plan: the tripod from above, the sights of a set-up being tried, its ellipse, and what is in doubt.

import { ellipseWords } from "./format";
import { FACE, label, px, py, type Pen } from "./plan-pen";
import type { Look, Scene, Trial } from "./plan-scene";
import { drawWeak } from "./plan-geometry";
import { atChainage, lineLength } from "./project";
import { DOUBT_PATH, TRIPOD_PATH } from "./symbols";
import type { Inks } from "./theme";
import type { EllipseView, MapRun, StationView } from "./wire";

const outside = (look: Look, x: number, y: number, room = 30): boolean => x < -room || y < -room || x > look.width + room || y > look.height + room;

/** Draws one of the shapes of `symbols.ts`, 24 units wide, about a place. */
function shape(pen: Pen, d: string, x: number, y: number, size: number, act: (path: Path2D) => void): void {
  pen.save();
  pen.translate(x - size / 2, y - size / 2);
  pen.scale(size / 24, size / 24);
  act(new Path2D(d));
  pen.restore();
}

function tripod(pen: Pen, x: number, y: number, ink: Inks, colour: string): void {
  shape(pen, TRIPOD_PATH, x, y, 30, (path) => {
    pen.lineCap = "round";
    pen.strokeStyle = ink.paper;
    pen.lineWidth = 6;
    pen.stroke(path);
    pen.fillStyle = ink.paper;
    pen.beginPath();
    pen.arc(12, 12, 4.5, 0, 7);
    pen.fill();
    pen.strokeStyle = colour;
    pen.lineWidth = 2;
    pen.stroke(path);
    pen.lineCap = "butt";
  });
}

/** The mark of doubt: a lozenge with a stroke and a dot. */
export function doubtMark(pen: Pen, x: number, y: number, size: number, ink: Inks): void {
  shape(pen, DOUBT_PATH, x, y, size, (path) => {
    pen.lineJoin = "miter";
    pen.strokeStyle = ink.paper;
    pen.lineWidth = 5;
    pen.stroke(new Path2D("M12 1L23 12L12 23L1 12Z"));
    pen.fillStyle = ink.mark;
    pen.fill(path, "evenodd");
  });
}

/** What stands after a station's name: nothing when its check passed. */
export const checkWords = (s: StationView): string => (s.check === "failed" ? "check failed" : s.check === "not-done" ? "not checked" : "");

export function drawStations(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  pen.setLineDash([]);
  for (const s of scene.stations) {
    const x = px(look, s.at[0]);
    const y = py(look, s.at[1]);
    if (outside(look, x, y) || s.station === scene.trial?.name) continue;
    const bad = s.check !== "passed";
    tripod(pen, x, y, ink, ink.ink);
    if (bad) doubtMark(pen, x + 13, y - 13, 18, ink);
    pen.font = `${bad ? 700 : 600} 12px ${FACE}`;
    pen.textBaseline = "middle";
    const words = bad ? `${s.station}, ${checkWords(s)}` : s.station;
    // Toward the middle where it would run under the keys at the edge.
    const left = x + 24 + pen.measureText(words).width > look.width - 66;
    pen.textAlign = left ? "right" : "left";
    if (bad || look.resolution < 0.25) label(pen, words, x + (left ? -18 : 18), y + 6, ink, bad ? ink.mark : ink.ink);
  }
}

/** Runs with something doubtful about where they are: the mark, and the words while there is room for them. */
export function drawDoubts(pen: Pen, runs: readonly MapRun[], scene: Scene, look: Look, ink: Inks): void {
  let room = 200;
  for (const run of runs) {
    // On an open card the points themselves carry the mark.
    if ((run.doubts ?? []).length === 0 || room <= 0 || (scene.circles.length > 0 && scene.lit.has(run.run))) continue;
    room -= 1;
    const places = run.line.map(([easting, northing]) => ({ easting, northing }));
    const length = lineLength(places);
    const words = length / look.resolution > 160;
    for (const share of length / look.resolution > 420 ? [0.25, 0.75] : [0.5]) {
      const at = atChainage(run.line, length * share);
      if (!at) continue;
      const x = px(look, at.easting);
      const y = py(look, at.northing);
      if (outside(look, x, y)) continue;
      doubtMark(pen, x, y, 24, ink);
      if (!words) continue;
      pen.font = `800 12px ${FACE}`;
      pen.textAlign = "left";
      pen.textBaseline = "middle";
      label(pen, "in doubt", x + 16, y, ink, ink.mark);
    }
  }
}

/** Lays an ellipse out about a place; its azimuth is clockwise from grid north, and the canvas turns clockwise from east. */
function ellipsePath(pen: Pen, x: number, y: number, ellipse: EllipseView, resolution: number, times = 1): void {
  const turn = (((ellipse.azimuth_deg ?? 0) - 90) * Math.PI) / 180;
  pen.beginPath();
  pen.ellipse(x, y, (ellipse.semi_major_m * times) / resolution, (ellipse.semi_minor_m * times) / resolution, turn, 0, 7);
}

/** An ellipse at true size is drawn from this half-length on, in pixels; smaller, it would hide under its own line. */
const SEEN_FROM = 4;

/** Every point and control point with its ellipse at true size, once one has come near enough to see it. */
export function drawEllipses(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  // The card's own points are drawn stronger and named.
  const named = new Set(scene.circles.map((c) => c.point));
  pen.setLineDash([]);
  let room = look.moving ? 300 : 2000;
  // A server of an earlier version sends no points.
  for (const p of [...(scene.map?.points ?? []), ...(scene.map?.control ?? [])]) {
    if (!p.ellipse || named.has(p.point) || p.ellipse.semi_major_m / look.resolution < SEEN_FROM) continue;
    const x = px(look, p.at[0]);
    const y = py(look, p.at[1]);
    if (outside(look, x, y, 30 + p.ellipse.semi_major_m / look.resolution)) continue;
    room -= 1;
    if (room < 0) return;
    ellipsePath(pen, x, y, p.ellipse, look.resolution);
    pen.strokeStyle = ink.paper;
    pen.lineWidth = 3;
    pen.stroke();
    pen.strokeStyle = ink.ink;
    pen.lineWidth = 1;
    pen.stroke();
    pen.fillStyle = ink.ink;
    pen.fillRect(x - 1.5, y - 1.5, 3, 3);
  }
}

/** The points of an open card, each with the ellipse that holds it 95 times in 100, once that is large enough to see. */
export function drawCircles(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  let named = 0;
  for (const c of scene.circles) {
    const x = px(look, c.at[0]);
    const y = py(look, c.at[1]);
    const radius = (c.ellipse?.semi_major_m ?? 0) / look.resolution;
    if (outside(look, x, y, 30 + radius)) continue;
    if (c.doubt) doubtMark(pen, x, y, 22, ink);
    if (!c.ellipse || radius < SEEN_FROM) continue;
    ellipsePath(pen, x, y, c.ellipse, look.resolution);
    pen.strokeStyle = ink.paper;
    pen.lineWidth = 4;
    pen.setLineDash([]);
    pen.stroke();
    pen.strokeStyle = ink.ink;
    pen.lineWidth = 1.6;
    pen.setLineDash([5, 3]);
    pen.stroke();
    pen.setLineDash([]);
    if (named > 30) continue;
    named += 1;
    pen.font = `600 12px ${FACE}`;
    pen.textBaseline = "middle";
    const words = `${c.point} ${ellipseWords(c.ellipse)}`;
    // Toward the middle where it would run out at the edge.
    const off = Math.min(radius * 0.71 + 6, look.width / 3);
    const left = x + off + pen.measureText(words).width > look.width - 66 && x > look.width / 2;
    pen.textAlign = left ? "right" : "left";
    label(pen, words, x + (left ? -off : off), y + Math.min(radius * 0.71 + 8, look.height / 3), ink, ink.ink);
  }
}

/** How many times larger an ellipse is drawn, so that it can be seen: 1, 2 or 5 times a power of ten, never smaller than true. */
export function enlargement(semiMajor: number, resolution: number, pixels = 56): number {
  const times = (pixels * resolution) / Math.max(semiMajor, 1e-6);
  if (times <= 1) return 1;
  const power = 10 ** Math.floor(Math.log10(times));
  for (const k of [5, 2, 1]) if (k * power <= times) return k * power;
  return 1;
}

export function drawTrial(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  const trial = scene.trial;
  if (!trial) return;
  if (trial.at) {
    // What is under the sights stands back, so that the geometry is seen first.
    pen.globalAlpha = 0.6;
    pen.fillStyle = ink.paper;
    pen.fillRect(0, 0, look.width, look.height);
    pen.globalAlpha = 1;
  }
  drawWeak(pen, trial, look, ink);
  if (trial.at) rays(pen, trial, trial.at, look, ink);
  for (const ray of trial.rays) {
    const x = px(look, ray.at[0]);
    const y = py(look, ray.at[1]);
    if (outside(look, x, y)) continue;
    pen.beginPath();
    pen.moveTo(x, y - 13); pen.lineTo(x + 12, y + 8); pen.lineTo(x - 12, y + 8); pen.closePath();
    pen.fillStyle = ray.sightedAs === "control" ? ink.ink : ink.paper;
    pen.fill();
    pen.strokeStyle = ink.ink;
    pen.lineWidth = 2.5;
    pen.setLineDash([]);
    pen.stroke();
    if (ray.rejected) doubtMark(pen, x, y - 22, 22, ink);
    pen.font = `700 13px ${FACE}`;
    pen.textBaseline = "middle";
    const right = x > look.width - 130;
    pen.textAlign = right ? "right" : "left";
    label(pen, `${ray.point}, ${ray.sightedAs === "control" ? "finds" : "checks"}${ray.rejected ? ", does not fit" : ""}`, x + (right ? -16 : 16), y, ink, ray.rejected ? ink.mark : ink.ink);
  }
  if (!trial.at) return;
  const x = px(look, trial.at[0]);
  const y = py(look, trial.at[1]);
  tripod(pen, x, y, ink, ink.mark);
  pen.font = `800 13px ${FACE}`;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  label(pen, trial.name, x, y + 26, ink, ink.mark);
}

function rays(pen: Pen, trial: Trial, at: readonly [number, number], look: Look, ink: Inks): void {
  const x = px(look, at[0]);
  const y = py(look, at[1]);
  for (const ray of trial.rays) {
    pen.beginPath();
    pen.moveTo(x, y);
    pen.lineTo(px(look, ray.at[0]), py(look, ray.at[1]));
    pen.setLineDash(ray.sightedAs === "control" ? [] : [7, 5]);
    pen.strokeStyle = ray.rejected ? ink.mark : ink.ink;
    pen.lineWidth = ray.rejected ? 3 : 1.6;
    pen.stroke();
  }
  pen.setLineDash([]);
  const { ellipse } = trial;
  if (!ellipse) return;
  const times = enlargement(ellipse.semi_major_m, look.resolution, Math.min(56, look.height / 9, look.width / 9));
  ellipsePath(pen, x, y, ellipse, look.resolution, times);
  pen.globalAlpha = 0.16;
  pen.fillStyle = ink.mark;
  pen.fill();
  pen.globalAlpha = 1;
  pen.strokeStyle = ink.mark;
  pen.lineWidth = 2;
  pen.stroke();
  pen.font = `600 12px ${FACE}`;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  const words = times === 1 ? "95 % ellipse, true size" : `95 % ellipse, drawn ${times} times larger`;
  // Above the station where the scale bar lies below it; never beyond the edge.
  const off = Math.max((ellipse.semi_major_m * times) / look.resolution + 16, 42);
  const half = pen.measureText(words).width / 2 + 6;
  // The keys stand at the right edge.
  label(pen, words, Math.max(Math.min(x, look.width - half - 62), half), y + off > look.height - 56 ? y - off : y + off, ink, ink.mark);
}
