// Draws the plan on a canvas: unsearched ground hatched, searched areas outlined, runs told apart by letters and
// line pattern first and colour second, uncertainty at true scale. Only what is in view is drawn.

import { FACE, label, px, py, type Pen } from "./plan-pen";
import type { Look, Scene } from "./plan-scene";
import { searchedForAll, searchWords, wordsAt } from "./plan-searched";
import { drawCircles, drawDoubts, drawEllipses, drawStations, drawTrial } from "./plan-station";
import { drawTaped } from "./plan-taped";
import { lengthWords } from "./format";
import { roundStep } from "./project";
import { MM, service, serviceInk } from "./services";
import type { Inks } from "./theme";
import type { MapRun } from "./wire";

/** Draws everything in view. Gives the number of vertices that were in view, which says how heavy it was. */
export function drawPlan(pen: Pen, scene: Scene, look: Look, ink: Inks): number {
  pen.setTransform(look.ratio, 0, 0, look.ratio, 0, 0);
  pen.clearRect(0, 0, look.width, look.height);
  drawUnsearched(pen, scene, look, ink);
  drawGrid(pen, look, ink);
  drawSurfaces(pen, scene, look, ink);
  drawDig(pen, scene, look, ink);
  const shown = runsInView(scene, look);
  drawUncertainty(pen, shown, look, scene);
  drawRuns(pen, shown, look, scene, ink);
  drawEnds(pen, shown, look, ink);
  drawControl(pen, scene, look, ink);
  drawEllipses(pen, scene, look, ink);
  drawStations(pen, scene, look, ink);
  drawLetters(pen, shown, look, scene, ink);
  drawDoubts(pen, shown, scene, look, ink);
  drawCircles(pen, scene, look, ink);
  drawPreview(pen, scene, look, ink);
  drawPoints(pen, scene, look, ink);
  drawSketch(pen, scene, look, ink);
  drawTrial(pen, scene, look, ink);
  drawTaped(pen, scene, look, ink);
  drawNumbers(pen, scene, look, ink);
  drawMark(pen, scene, look, ink);
  drawScale(pen, look, ink);
  return shown.reduce((sum, run) => sum + run.line.length, 0);
}

/**
 * Draws a moving plan from a picture of it at rest: shifted and scaled, with hatch where the picture does not reach,
 * since nothing may look searched before it is drawn.
 */
export function drawMoved(pen: Pen, still: HTMLCanvasElement, then: Look, look: Look, ink: Inks): void {
  pen.setTransform(look.ratio, 0, 0, look.ratio, 0, 0);
  pen.clearRect(0, 0, look.width, look.height);
  hatch(pen, look, ink.hatch, 9);
  const scale = then.resolution / look.resolution;
  const x = px(look, then.easting - (then.width / 2) * then.resolution);
  const y = py(look, then.northing + (then.height / 2) * then.resolution);
  pen.fillStyle = ink.paper;
  pen.fillRect(x, y, then.width * scale, then.height * scale);
  pen.drawImage(still, x, y, then.width * scale, then.height * scale);
}

function ringPath(pen: Pen, look: Look, ring: readonly (readonly number[])[]): void {
  for (const [i, at] of ring.entries()) {
    const x = px(look, at[0] as number);
    const y = py(look, at[1] as number);
    if (i === 0) pen.moveTo(x, y);
    else pen.lineTo(x, y);
  }
  pen.closePath();
}

/** The hatch that means "not recorded here", everywhere in the program: fine lines rising to the right. */
function hatch(pen: Pen, look: Look, colour: string, pitch: number): void {
  // Tied to the ground, so that it moves with the plan and does not swim.
  const shift = (((look.easting / look.resolution + look.northing / look.resolution) % pitch) + pitch) % pitch;
  const half = (look.width + look.height) / 2;
  const offset = ((half - shift) % pitch + pitch) % pitch;
  pen.strokeStyle = colour;
  pen.lineWidth = 1;
  pen.setLineDash([]);
  pen.beginPath();
  for (let x = offset - pitch; x < look.width + look.height + pitch; x += pitch) {
    pen.moveTo(x, 0);
    pen.lineTo(x - look.height, look.height);
  }
  pen.stroke();
}

function drawUnsearched(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  hatch(pen, look, ink.hatch, 9);
  const areas = scene.map?.searched ?? [];
  pen.fillStyle = ink.paper;
  for (const area of areas) {
    if (!searchedForAll(area)) continue;
    pen.beginPath();
    ringPath(pen, look, area.ring);
    pen.fill();
  }
  for (const area of areas) {
    pen.beginPath();
    ringPath(pen, look, area.ring);
    pen.strokeStyle = ink.ink;
    pen.lineWidth = searchedForAll(area) ? 1.25 : 1;
    pen.setLineDash(searchedForAll(area) ? [] : area.counts ? [8, 4] : [2, 5]);
    pen.stroke();
  }
  pen.setLineDash([]);
  pen.font = `500 11px ${FACE}`;
  pen.textBaseline = "bottom";
  pen.textAlign = "left";
  for (const area of areas) {
    const words = searchWords(area, (slug) => service(slug).letters);
    const at = words ? wordsAt(area, look) : null;
    if (at) label(pen, words, at[0], at[1], ink, ink.ink);
  }
}

function drawGrid(pen: Pen, look: Look, ink: Inks): void {
  const step = roundStep(110 * look.resolution);
  const e0 = Math.ceil((look.easting - (look.width / 2) * look.resolution) / step);
  const e1 = Math.floor((look.easting + (look.width / 2) * look.resolution) / step);
  const n0 = Math.ceil((look.northing - (look.height / 2) * look.resolution) / step);
  const n1 = Math.floor((look.northing + (look.height / 2) * look.resolution) / step);
  if ((e1 - e0) * (n1 - n0) > 2000) return;
  pen.strokeStyle = ink.faint;
  pen.lineWidth = 1;
  pen.beginPath();
  for (let i = e0; i <= e1; i += 1) {
    const x = Math.round(px(look, i * step)) + 0.5;
    for (let k = n0; k <= n1; k += 1) {
      const y = Math.round(py(look, k * step)) + 0.5;
      pen.moveTo(x - 5, y); pen.lineTo(x + 5, y);
      pen.moveTo(x, y - 5); pen.lineTo(x, y + 5);
    }
    pen.moveTo(x, 0); pen.lineTo(x, 7);
  }
  for (let k = n0; k <= n1; k += 1) {
    const y = Math.round(py(look, k * step)) + 0.5;
    pen.moveTo(0, y); pen.lineTo(7, y);
  }
  pen.stroke();
  const digits = step >= 1 ? 0 : Math.min(3, Math.ceil(-Math.log10(step)));
  pen.font = `500 11px ${FACE}`;
  pen.textBaseline = "top";
  pen.textAlign = "left";
  for (let i = e0; i <= e1; i += 1) {
    const x = px(look, i * step);
    if (x > 60 && x < look.width - 60) label(pen, `${(i * step).toFixed(digits)} E`, x + 4, 3, ink, ink.ink);
  }
  for (let k = n0; k <= n1; k += 1) {
    const y = py(look, k * step);
    if (y > 30 && y < look.height - 70) label(pen, `${(k * step).toFixed(digits)} N`, 4, y + 3, ink, ink.ink);
  }
}

function drawSurfaces(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  pen.strokeStyle = ink.ink;
  pen.lineWidth = 1;
  pen.setLineDash([10, 3, 1, 3]);
  for (const surface of scene.map?.surfaces ?? []) {
    if (surface.ring.length < 3) continue;
    pen.beginPath();
    ringPath(pen, look, surface.ring);
    pen.globalAlpha = 0.45;
    pen.stroke();
  }
  pen.globalAlpha = 1;
  pen.setLineDash([]);
}

function runsInView(scene: Scene, look: Look): MapRun[] {
  const w = (look.width / 2 + 40) * look.resolution;
  const h = (look.height / 2 + 40) * look.resolution;
  const found: MapRun[] = [];
  scene.index?.within(look.easting - w, look.northing - h, look.easting + w, look.northing + h, (run) => found.push(run));
  return found;
}

/** The 95 % in plan as one pale band, from point to point as wide as the register says, what was not shot included. */
function drawUncertainty(pen: Pen, runs: readonly MapRun[], look: Look, scene: Scene): void {
  for (const run of runs) {
    if (run.u95_h_m.length === 0) continue;
    const widest = Math.max(...run.u95_h_m);
    if ((2 * widest) / look.resolution < 2) continue;
    const radius = (i: number): number => ((run.u95_h_m[i] ?? widest) + run.width_m / 2) / look.resolution;
    // Discs and what lies between them, all turning the same way: one fill, so that nothing overlaps darker.
    pen.beginPath();
    let last: readonly [number, number, number] | null = null;
    for (const [i, at] of run.line.entries()) {
      const [x, y, r] = [px(look, at[0]), py(look, at[1]), radius(i)];
      pen.moveTo(x + r, y);
      pen.arc(x, y, r, 0, 2 * Math.PI, true);
      if (last) {
        const [x0, y0, r0] = last;
        const length = Math.hypot(x - x0, y - y0);
        if (length > 1e-6) {
          const [nx, ny] = [-(y - y0) / length, (x - x0) / length];
          pen.moveTo(x0 + nx * r0, y0 + ny * r0);
          pen.lineTo(x + nx * r, y + ny * r);
          pen.lineTo(x - nx * r, y - ny * r);
          pen.lineTo(x0 - nx * r0, y0 - ny * r0);
          pen.closePath();
        }
      }
      last = [x, y, r];
    }
    pen.globalAlpha = scene.lit.size > 0 && !scene.lit.has(run.run) ? 0.06 : 0.16;
    pen.fillStyle = serviceInk(run.service);
    pen.fill("nonzero");
  }
  pen.globalAlpha = 1;
}

const isSeen = (run: MapRun): boolean => run.known === "seen" || run.known === "seen-checked";

/** Strokes runs in batches that share a look: one path for each service, strength and way of being known. */
function drawRuns(pen: Pen, runs: readonly MapRun[], look: Look, scene: Scene, ink: Inks): void {
  interface Batch { path: Path2D; slug: string; lit: boolean; seen: boolean; width: number }
  const batches = new Map<string, Batch>();
  let vertices = 0;
  for (const run of runs) {
    const lit = scene.lit.size === 0 || scene.lit.has(run.run);
    const seen = isSeen(run);
    const scaled = run.width_m / look.resolution;
    const width = scaled > 4 ? Math.round(scaled * 2) / 2 : 2.6;
    const key = `${run.service} ${lit} ${seen} ${width}`;
    let batch = batches.get(key);
    if (!batch) {
      batch = { path: new Path2D(), slug: run.service, lit, seen, width };
      batches.set(key, batch);
    }
    vertices += run.line.length;
    let [lastX, lastY] = [Number.NaN, Number.NaN];
    for (const [i, at] of run.line.entries()) {
      const x = px(look, at[0]);
      const y = py(look, at[1]);
      if (i === 0) batch.path.moveTo(x, y);
      else if (i === run.line.length - 1 || Math.abs(x - lastX) + Math.abs(y - lastY) > 0.7) batch.path.lineTo(x, y);
      else continue;
      lastX = x;
      lastY = y;
    }
  }
  const dashes = !(look.moving && vertices > 6000);
  pen.lineJoin = "round";
  for (const batch of [...batches.values()].sort((a, b) => Number(a.lit) - Number(b.lit))) {
    const strong = batch.lit && scene.lit.size > 0;
    const width = batch.width + (strong ? 1.6 : 0);
    pen.globalAlpha = batch.lit ? 1 : 0.58;
    pen.setLineDash(dashes ? service(batch.slug).dash_mm.map((mm) => mm * MM) : []);
    pen.strokeStyle = serviceInk(batch.slug);
    pen.lineWidth = width;
    pen.stroke(batch.path);
    if (!batch.seen || batch.width > 4) {
      // Hollow: not seen when it was measured, or wide enough to be drawn as its two sides.
      pen.setLineDash([]);
      pen.globalAlpha = batch.lit ? 1 : 0.6;
      pen.strokeStyle = ink.paper;
      pen.lineWidth = batch.seen ? width - 2.4 : Math.max(width - 2, 1);
      pen.stroke(batch.path);
      if (batch.seen) {
        // Wide and seen: a tint between its two sides, so that only what was not seen looks empty.
        pen.globalAlpha *= 0.45;
        pen.strokeStyle = serviceInk(batch.slug);
        pen.stroke(batch.path);
      }
    }
  }
  pen.globalAlpha = 1;
  pen.setLineDash([]);
}

/** How a run ends: a bar for a cap, a square for a structure, a fan where it may go on unrecorded. */
function drawEnds(pen: Pen, runs: readonly MapRun[], look: Look, ink: Inks): void {
  if (runs.length > 1500) return;
  for (const run of runs) {
    if (run.line.length < 2) continue;
    pen.strokeStyle = serviceInk(run.service);
    for (const k of [0, 1] as const) {
      const end = run.line[k === 0 ? 0 : run.line.length - 1];
      const before = run.line[k === 0 ? 1 : run.line.length - 2];
      if (!end || !before) continue;
      const x = px(look, end[0]);
      const y = py(look, end[1]);
      const turn = Math.atan2(y - py(look, before[1]), x - px(look, before[0]));
      pen.lineWidth = 1.6;
      pen.beginPath();
      const how = run.ends[k];
      if (how.startsWith("continues") || how.startsWith("not-stated") || how.startsWith("not stated")) {
        for (const spread of [-0.42, 0, 0.42]) {
          pen.moveTo(x + 3 * Math.cos(turn + spread), y + 3 * Math.sin(turn + spread));
          pen.lineTo(x + 15 * Math.cos(turn + spread), y + 15 * Math.sin(turn + spread));
        }
      } else if (how.startsWith("capped")) {
        pen.lineWidth = 3;
        pen.moveTo(x - 6 * Math.sin(turn), y + 6 * Math.cos(turn));
        pen.lineTo(x + 6 * Math.sin(turn), y - 6 * Math.cos(turn));
      } else if (how.startsWith("enters")) {
        pen.rect(x - 5, y - 5, 10, 10);
        pen.fillStyle = ink.paper;
        pen.fill();
      } else {
        pen.arc(x, y, 3, 0, 7);
        pen.fillStyle = serviceInk(run.service);
        pen.fill();
      }
      pen.stroke();
    }
  }
}

/** Letters along the lines, upright, one in a cell: where lines crowd, some go without until one looks closer. */
function drawLetters(pen: Pen, runs: readonly MapRun[], look: Look, scene: Scene, ink: Inks): void {
  const taken = new Set<number>();
  const cell = 26;
  const across = Math.ceil(look.width / cell) + 2;
  const every = 118;
  let room = look.moving ? 250 : 700;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  const order = scene.lit.size > 0 ? [...runs].sort((a, b) => Number(scene.lit.has(b.run)) - Number(scene.lit.has(a.run))) : runs;
  for (const run of order) {
    if (room <= 0) return;
    const lit = scene.lit.size === 0 || scene.lit.has(run.run);
    const style = service(run.service);
    const text = run.status === "abandoned" ? `${style.letters} x` : run.status === "held" ? `${style.letters} held` : style.letters;
    const ink2 = serviceInk(run.service);
    let next = every / 2;
    let walked = 0;
    let first = run.line[0];
    for (let i = 1; i < run.line.length && first; i += 1) {
      const b = run.line[i] as readonly number[];
      const x0 = px(look, first[0]);
      const y0 = py(look, first[1]);
      const dx = px(look, b[0] as number) - x0;
      const dy = py(look, b[1] as number) - y0;
      const length = Math.hypot(dx, dy);
      // Far outside the view a leg can be many thousand pixels long: start where it matters.
      if (length > 8000) next = Math.max(next, walked + Math.max(0, (-x0 * dx - y0 * dy) / length - every));
      let tries = 0;
      while (next <= walked + length && tries < 400) {
        tries += 1;
        const t = (next - walked) / length;
        const x = x0 + dx * t;
        const y = y0 + dy * t;
        next += every;
        if (x < 8 || y < 8 || x > look.width - 8 || y > look.height - 8) continue;
        const at = Math.floor(y / cell) * across + Math.floor(x / cell);
        if (taken.has(at) || taken.has(at + 1) || taken.has(at - 1)) continue;
        taken.add(at);
        pen.globalAlpha = lit ? 1 : 0.7;
        pen.font = `800 ${lit && scene.lit.size > 0 ? 15 : 13}px ${FACE}`;
        label(pen, text, x, y, ink, ink2);
        room -= 1;
      }
      walked += length;
      first = run.line[i];
    }
  }
  pen.globalAlpha = 1;
}

function drawControl(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  for (const c of scene.map?.control ?? []) {
    pen.strokeStyle = ink.ink;
    pen.fillStyle = ink.ink;
    const x = px(look, c.at[0]);
    const y = py(look, c.at[1]);
    if (x < -20 || y < -20 || x > look.width + 20 || y > look.height + 20) continue;
    pen.lineWidth = 1.5;
    pen.beginPath();
    pen.moveTo(x, y - 8); pen.lineTo(x + 7, y + 5); pen.lineTo(x - 7, y + 5); pen.closePath();
    pen.stroke();
    pen.beginPath();
    pen.arc(x, y, 1.6, 0, 7);
    pen.fill();
    pen.font = `500 11px ${FACE}`;
    pen.textAlign = "left";
    pen.textBaseline = "middle";
    // A point that a set-up sights carries its own larger words.
    if (look.resolution < 0.2 && !scene.trial?.rays.some((r) => r.point === c.point)) label(pen, c.point, x + 11, y, ink, ink.ink);
  }
}

function drawDig(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  if (!scene.dig) return;
  // Inside the dig: what was searched is paper, the rest carries the hatch, closer set, so that it is seen at once.
  pen.save();
  pen.beginPath();
  for (const ring of scene.dig.plan) ringPath(pen, look, ring);
  pen.clip("evenodd");
  pen.fillStyle = ink.paper;
  pen.fillRect(0, 0, look.width, look.height);
  pen.beginPath();
  for (const polygon of scene.dig.unsearched) for (const ring of polygon) ringPath(pen, look, ring);
  pen.clip("evenodd");
  if (scene.dig.unsearched.length > 0) hatch(pen, look, ink.ink, 9);
  pen.restore();
  pen.beginPath();
  for (const ring of scene.dig.plan) ringPath(pen, look, ring);
  pen.strokeStyle = ink.paper;
  pen.lineWidth = 6;
  pen.stroke();
  pen.strokeStyle = ink.mark;
  pen.lineWidth = 2.5;
  pen.stroke();
}

function drawNumbers(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  const taken: [number, number, number][] = [];
  for (const n of scene.dig?.numbers ?? []) {
    const x = px(look, n.at[0]);
    const y = py(look, n.at[1]);
    if (x < -40 || y < -40 || x > look.width + 40 || y > look.height + 40) continue;
    pen.font = `800 14px ${FACE}`;
    const w = Math.max(24, pen.measureText(n.text).width + 12);
    // A tag that would lie on another climbs until it is free; its stalk still stands on the place.
    let top = y - 34;
    for (let k = 0; k < 12 && taken.some(([tx, ty, tw]) => Math.abs(tx - x) < (tw + w) / 2 + 3 && Math.abs(ty - top) < 27); k += 1) top -= 27;
    taken.push([x, top, w]);
    pen.fillStyle = ink.ink;
    pen.strokeStyle = ink.ink;
    pen.lineWidth = 1.5;
    pen.beginPath();
    pen.moveTo(x, top + 24); pen.lineTo(x, y);
    pen.stroke();
    pen.beginPath();
    pen.roundRect(x - w / 2, top, w, 24, 3);
    pen.moveTo(x - 5, top + 23.5); pen.lineTo(x, top + 32); pen.lineTo(x + 5, top + 23.5);
    pen.fill();
    pen.strokeStyle = ink.paper;
    pen.lineWidth = 1;
    pen.strokeRect(x - w / 2 - 0.5, top - 0.5, w + 1, 25);
    pen.fillStyle = ink.paper;
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillText(n.text, x, top + 12.5);
  }
}

function drawPreview(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  const preview = scene.preview;
  if (!preview) return;
  pen.strokeStyle = ink.mark;
  pen.lineWidth = 2;
  pen.setLineDash([3, 4]);
  for (const run of preview.runs) {
    pen.beginPath();
    for (const [i, at] of run.line.entries()) {
      if (i === 0) pen.moveTo(px(look, at[0]), py(look, at[1]));
      else pen.lineTo(px(look, at[0]), py(look, at[1]));
    }
    pen.stroke();
  }
  pen.setLineDash([]);
  pen.font = `600 11px ${FACE}`;
  pen.textAlign = "left";
  pen.textBaseline = "middle";
  let labels = 120;
  for (const point of preview.points) {
    const x = px(look, point.at[0]);
    const y = py(look, point.at[1]);
    if (x < 0 || y < 0 || x > look.width || y > look.height) continue;
    pen.strokeStyle = ink.mark;
    pen.lineWidth = 2;
    pen.beginPath();
    pen.moveTo(x - 5, y - 5); pen.lineTo(x + 5, y + 5);
    pen.moveTo(x + 5, y - 5); pen.lineTo(x - 5, y + 5);
    pen.stroke();
    if (labels > 0) {
      labels -= 1;
      label(pen, point.point, x + 9, y, ink, ink.mark);
    }
  }
}

function drawPoints(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  pen.font = `600 12px ${FACE}`;
  pen.textAlign = "left";
  pen.textBaseline = "middle";
  let path = false;
  pen.beginPath();
  for (const p of scene.points.filter((q) => q.chosen !== null).sort((a, b) => (a.chosen ?? 0) - (b.chosen ?? 0))) {
    if (path) pen.lineTo(px(look, p.at[0]), py(look, p.at[1]));
    else pen.moveTo(px(look, p.at[0]), py(look, p.at[1]));
    path = true;
  }
  pen.strokeStyle = ink.mark;
  pen.lineWidth = 2.5;
  pen.stroke();
  // A name where there is room for it, chosen ones first: where points crowd, some go without until one looks closer.
  const taken: [number, number, number][] = [];
  const named = new Set(scene.taped?.tapes.map((t) => t.point));
  for (const p of [...scene.points].sort((a, b) => Number(b.chosen !== null) - Number(a.chosen !== null))) {
    const x = px(look, p.at[0]);
    const y = py(look, p.at[1]);
    if (x < -20 || y < -20 || x > look.width + 20 || y > look.height + 20) continue;
    pen.beginPath();
    pen.arc(x, y, p.chosen === null ? 5 : 8, 0, 7);
    pen.fillStyle = p.chosen === null ? ink.paper : ink.mark;
    pen.fill();
    pen.strokeStyle = ink.ink;
    pen.lineWidth = 1.5;
    pen.stroke();
    const words = p.chosen === null ? p.point : `${p.chosen + 1}  ${p.point}`;
    const w = pen.measureText(words).width;
    if (named.has(p.point) || (p.chosen === null && taken.some(([tx, ty, tw]) => Math.abs(ty - y) < 15 && x < tx + tw + 16 && tx < x + w + 16))) continue;
    taken.push([x, y, w]);
    label(pen, words, x + 12, y, ink, ink.ink);
  }
}

function drawSketch(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  const sketch = scene.sketch;
  if (!sketch) return;
  pen.beginPath();
  for (const [i, p] of sketch.places.entries()) {
    const x = px(look, p.easting);
    const y = py(look, p.northing);
    if (i === 0) pen.moveTo(x, y);
    else pen.lineTo(x, y);
  }
  if (sketch.closed && sketch.places.length > 2) pen.closePath();
  pen.lineJoin = "round";
  if (sketch.widthM > 0) {
    pen.globalAlpha = 0.22;
    pen.strokeStyle = ink.mark;
    pen.lineWidth = sketch.widthM / look.resolution;
    pen.stroke();
    pen.globalAlpha = 1;
  }
  pen.strokeStyle = ink.mark;
  pen.lineWidth = 2.5;
  pen.setLineDash([8, 4]);
  pen.stroke();
  pen.setLineDash([]);
  for (const [i, p] of sketch.places.entries()) {
    const x = px(look, p.easting);
    const y = py(look, p.northing);
    pen.beginPath();
    pen.rect(x - 6, y - 6, 12, 12);
    pen.fillStyle = i === sketch.chosen ? ink.mark : ink.paper;
    pen.fill();
    pen.strokeStyle = ink.mark;
    pen.lineWidth = 2.5;
    pen.stroke();
    pen.font = `700 12px ${FACE}`;
    pen.textAlign = "left";
    pen.textBaseline = "middle";
    label(pen, String(i + 1), x + 11, y - 9, ink, ink.mark);
  }
}

function drawMark(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  if (scene.mark) {
    const x = px(look, scene.mark.easting);
    const y = py(look, scene.mark.northing);
    // The foot of the staff: a small staff stood on the place.
    pen.fillStyle = ink.paper;
    pen.fillRect(x - 5, y - 46, 10, 46);
    for (let k = 0; k < 8; k += 1) {
      pen.fillStyle = k % 4 < 2 ? ink.ink : ink.mark;
      pen.fillRect(k % 2 === 0 ? x - 5 : x, y - 46 + k * 5.5, 5, 5.5);
    }
    pen.strokeStyle = ink.ink;
    pen.lineWidth = 1.5;
    pen.strokeRect(x - 5, y - 46, 10, 44);
    pen.beginPath();
    pen.moveTo(x - 5, y - 2); pen.lineTo(x, y + 3); pen.lineTo(x + 5, y - 2);
    pen.fillStyle = ink.ink;
    pen.fill();
  }
  if (scene.cross) {
    const x = Math.round(look.width / 2) + 0.5;
    const y = Math.round(look.height / 2) + 0.5;
    for (const [colour, width] of [[ink.paper, 4], [ink.ink, 1.5]] as const) {
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      pen.beginPath();
      pen.moveTo(x - 16, y); pen.lineTo(x - 4, y); pen.moveTo(x + 4, y); pen.lineTo(x + 16, y);
      pen.moveTo(x, y - 16); pen.lineTo(x, y - 4); pen.moveTo(x, y + 4); pen.lineTo(x, y + 16);
      pen.stroke();
    }
  }
}

/** A scale bar in blocks, like the staff laid down, and the north of the grid. */
function drawScale(pen: Pen, look: Look, ink: Inks): void {
  const step = roundStep(26 * look.resolution);
  const block = step / look.resolution;
  const x0 = 14;
  const y0 = look.height - 22;
  pen.setLineDash([]);
  pen.fillStyle = ink.paper;
  pen.fillRect(x0 - 6, y0 - 22, block * 4 + 46, 38);
  for (let k = 0; k < 4; k += 1) {
    pen.fillStyle = ink.ink;
    pen.fillRect(x0 + k * block, y0 + (k % 2) * 4, block, 4);
  }
  pen.strokeStyle = ink.ink;
  pen.lineWidth = 1;
  pen.strokeRect(x0, y0, block * 4, 8);
  pen.font = `600 12px ${FACE}`;
  pen.textBaseline = "bottom";
  pen.textAlign = "left";
  pen.fillStyle = ink.ink;
  pen.fillText("0", x0 - 2, y0 - 3);
  pen.fillText(lengthWords(step * 4), x0 + block * 4 - 8, y0 - 3);
  const x = look.width - 24;
  const y = 34;
  pen.beginPath();
  pen.moveTo(x, y - 20); pen.lineTo(x + 8, y + 10); pen.lineTo(x, y + 4); pen.lineTo(x - 8, y + 10); pen.closePath();
  pen.fillStyle = ink.paper;
  pen.fill();
  pen.strokeStyle = ink.ink;
  pen.lineWidth = 1.5;
  pen.stroke();
  pen.beginPath();
  pen.moveTo(x, y - 20); pen.lineTo(x + 8, y + 10); pen.lineTo(x, y + 4); pen.closePath();
  pen.fillStyle = ink.ink;
  pen.fill();
}
