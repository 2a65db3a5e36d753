// What every drawing on the plan shares: from ground to pixels, and a word that stays readable on lines.

import type { Look } from "./plan-scene";
import type { Inks } from "./theme";

export type Pen = CanvasRenderingContext2D;

export const FACE = '"Noto Sans Variable", "Noto Sans", sans-serif';

export const px = (look: Look, e: number): number => (e - look.easting) / look.resolution + look.width / 2;
export const py = (look: Look, n: number): number => (look.northing - n) / look.resolution + look.height / 2;

/** A word with paper round it. */
export function label(pen: Pen, text: string, x: number, y: number, ink: Inks, colour: string): void {
  pen.lineJoin = "round";
  pen.strokeStyle = ink.paper;
  pen.lineWidth = 4;
  pen.setLineDash([]);
  pen.strokeText(text, x, y);
  pen.fillStyle = colour;
  pen.fillText(text, x, y);
}
