// What makes a set-up weak, on the plan: the circle on which directions alone fail, a narrow sector, control on a line.

import { FACE, label, px, py, type Pen } from "./plan-pen";
import type { Look, Trial } from "./plan-scene";
import { sectorOf } from "./station-geometry";
import type { Inks } from "./theme";

/** Draws the weak geometry of a set-up, under its sights. */
export function drawWeak(pen: Pen, trial: Trial, look: Look, ink: Inks): void {
  const { weak } = trial;
  if (!weak) return;
  const control = trial.rays.filter((r) => r.sightedAs === "control").map((r) => r.at);
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  if (weak.circle) circle(pen, weak.circle, look, ink);
  if (weak.narrowDeg !== null && trial.at) sector(pen, trial.at, control, weak.narrowDeg, look, ink);
  if (weak.oneLine && control.length > 1) line(pen, control, look, ink);
  pen.setLineDash([]);
}

function circle(pen: Pen, c: { centre: readonly [number, number]; radiusM: number; near: boolean; matters: boolean }, look: Look, ink: Inks): void {
  const [x, y, r] = [px(look, c.centre[0]), py(look, c.centre[1]), c.radiusM / look.resolution];
  const loud = c.near && c.matters;
  pen.beginPath();
  pen.arc(x, y, r, 0, 2 * Math.PI);
  pen.strokeStyle = ink.paper;
  pen.lineWidth = loud ? 9 : 4;
  pen.setLineDash([]);
  pen.stroke();
  pen.strokeStyle = loud ? ink.mark : ink.ink;
  pen.lineWidth = loud ? 3.5 : 1.4;
  pen.setLineDash([2, 6]);
  pen.lineCap = "round";
  pen.stroke();
  pen.lineCap = "butt";
  pen.font = `700 12px ${FACE}`;
  const words = c.matters ? (loud ? "danger circle: directions alone fail on it" : "directions alone fail on this circle") : "danger circle; distances were measured";
  const half = pen.measureText(words).width / 2 + 6;
  // Where the circle passes through the view: its top, its foot, else the middle of its nearer side.
  const rim = [y - r, y + r].find((top) => top > 46 && top < look.height - 60) ?? 46;
  label(pen, words, Math.min(Math.max(x, half), look.width - half - 60), rim + (rim === y + r ? 14 : -12), ink, loud ? ink.mark : ink.ink);
}

function sector(pen: Pen, at: readonly [number, number], control: readonly (readonly number[])[], degrees: number, look: Look, ink: Inks): void {
  const found = sectorOf([at[0], at[1]], control);
  if (!found) return;
  const [x, y] = [px(look, at[0]), py(look, at[1])];
  const r = Math.min(look.width, look.height) / 4;
  // Bearings turn clockwise from north, the canvas clockwise from east.
  const [a, b] = [found.from - Math.PI / 2, found.to - Math.PI / 2];
  pen.beginPath();
  pen.moveTo(x, y);
  pen.arc(x, y, r, a, b);
  pen.closePath();
  pen.globalAlpha = 0.14;
  pen.fillStyle = ink.mark;
  pen.fill();
  pen.globalAlpha = 1;
  pen.beginPath();
  pen.arc(x, y, r, a, b);
  pen.strokeStyle = ink.mark;
  pen.lineWidth = 2.5;
  pen.setLineDash([6, 4]);
  pen.stroke();
  pen.font = `700 12px ${FACE}`;
  const middle = (a + b) / 2;
  const words = `all within ${degrees.toFixed(0)}\u00b0`;
  const half = pen.measureText(words).width / 2 + 6;
  label(pen, words, Math.min(Math.max(x + (r + 18) * Math.cos(middle), half), look.width - half), y + (r + 18) * Math.sin(middle), ink, ink.mark);
}

/** The line that control lies nearly on, run out at both ends. */
function line(pen: Pen, control: readonly (readonly number[])[], look: Look, ink: Inks): void {
  const places = control.map((p) => [px(look, p[0] as number), py(look, p[1] as number)] as const);
  let [from, to, longest] = [places[0], places[1], -1];
  for (const p of places) for (const q of places) {
    const d = Math.hypot(p[0] - q[0], p[1] - q[1]);
    if (d > longest) [from, to, longest] = [p, q, d];
  }
  if (!from || !to || longest <= 0) return;
  const [dx, dy] = [((to[0] - from[0]) / longest) * 40, ((to[1] - from[1]) / longest) * 40];
  pen.beginPath();
  pen.moveTo(from[0] - dx, from[1] - dy);
  pen.lineTo(to[0] + dx, to[1] + dy);
  pen.strokeStyle = ink.mark;
  pen.lineWidth = 3;
  pen.setLineDash([10, 6]);
  pen.stroke();
  pen.font = `700 12px ${FACE}`;
  label(pen, "control on one line", (from[0] + to[0]) / 2, (from[1] + to[1]) / 2 - 14, ink, ink.mark);
}
