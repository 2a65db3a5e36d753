// What the plan draws and where it looks from. Plain data: `plan.ts` fills it, `plan-draw.ts` reads it.

import type { RunIndex } from "./hit-test";
import type { ImportPreview, Pair, Ring, SiteMap, Triple } from "./wire";
import type { Place } from "./project";

export interface Scene {
  map: SiteMap | null;
  index: RunIndex | null;
  /** Runs to show strong; the others stand back. */
  lit: ReadonlySet<string>;
  /** The place that the views talk about. */
  mark: Place | null;
  /** A dig, run or ring being drawn. */
  sketch: { places: Place[]; closed: boolean; widthM: number; chosen: number | null } | null;
  /** The dig that was answered. */
  dig: { plan: Ring[]; unsearched: Ring[][]; numbers: { at: Pair; text: string }[] } | null;
  /** An import that is not recorded yet. */
  preview: ImportPreview | null;
  /** Recorded points to choose from. */
  points: { point: string; at: Triple; chosen: number | null }[];
  /** Show the cross in the middle, where a corner would go. */
  cross: boolean;
}

export const emptyScene = (): Scene => ({
  map: null, index: null, lit: new Set(), mark: null, sketch: null, dig: null, preview: null, points: [], cross: false,
});

/** Where the plan looks from. */
export interface Look {
  width: number;
  height: number;
  ratio: number;
  easting: number;
  northing: number;
  /** Metres per pixel. */
  resolution: number;
  moving: boolean;
}
