// A point by tape, on the plan: each tape's circle about its mark, and the places where the first two meet.

import { lengthWords } from "./format";
import { FACE, label, px, py, type Pen } from "./plan-pen";
import type { Look, Scene } from "./plan-scene";
import type { Inks } from "./theme";

/** Draws the tapes and the candidate places. */
export function drawTaped(pen: Pen, scene: Scene, look: Look, ink: Inks): void {
  const { taped } = scene;
  if (!taped) return;
  pen.textBaseline = "middle";
  for (const [i, tape] of taped.tapes.entries()) {
    const [x, y, r] = [px(look, tape.at[0]), py(look, tape.at[1]), tape.metres / look.resolution];
    pen.beginPath();
    pen.arc(x, y, r, 0, 2 * Math.PI);
    pen.strokeStyle = ink.paper;
    pen.lineWidth = 4;
    pen.setLineDash([]);
    pen.stroke();
    pen.strokeStyle = ink.ink;
    pen.lineWidth = 1.6;
    // The third only checks: dashed, as a check's sight is.
    pen.setLineDash(i < 2 ? [] : [7, 5]);
    pen.stroke();
    pen.setLineDash([]);
    pen.beginPath();
    pen.arc(x, y, 6, 0, 2 * Math.PI);
    pen.fillStyle = i < 2 ? ink.ink : ink.paper;
    pen.fill();
    pen.strokeStyle = ink.ink;
    pen.lineWidth = 2;
    pen.stroke();
    pen.font = `700 12px ${FACE}`;
    pen.textAlign = "left";
    label(pen, `${tape.point}${tape.metres > 0 ? `, ${lengthWords(tape.metres)}` : ""}`, x + 10, y + 14, ink, ink.ink);
  }
  for (const place of taped.places) {
    const [x, y] = [px(look, place.at[0]), py(look, place.at[1])];
    pen.beginPath();
    pen.arc(x, y, 13, 0, 2 * Math.PI);
    pen.fillStyle = place.chosen ? ink.mark : ink.paper;
    pen.fill();
    pen.strokeStyle = ink.mark;
    pen.lineWidth = 3;
    pen.stroke();
    pen.font = `800 13px ${FACE}`;
    pen.textAlign = "center";
    pen.fillStyle = place.chosen ? ink.paper : ink.mark;
    pen.fillText(place.side === "left" ? "L" : "R", x, y + 0.5);
    pen.textAlign = "left";
    label(pen, place.side, x + 18, y, ink, ink.mark);
  }
}
