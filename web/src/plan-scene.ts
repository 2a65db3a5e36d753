// What the plan draws and where it looks from. Plain data: `plan.ts` fills it, `plan-draw.ts` reads it.

import type { RunIndex } from "./hit-test";
import type { EllipseView, ImportPreview, Pair, Ring, SightKind, SiteMap, StationView, Triple } from "./wire";
import type { Place } from "./project";

/** A set-up being tried: where it would stand, what it looks at, and how sure it would be. */
export interface Trial {
  name: string;
  at: Pair | null;
  ellipse: EllipseView | null;
  rays: { point: string; at: Triple; sightedAs: SightKind; rejected: boolean }[];
  /** What makes its geometry weak, to be drawn. */
  weak?: WeakGeometry;
}

/** Weak geometry of a set-up: the circle on which directions alone fail, a narrow sector, control on one line. */
export interface WeakGeometry {
  circle: { centre: Pair; radiusM: number; near: boolean; matters: boolean } | null;
  /** The angle that holds all control, degrees, where it is too small. */
  narrowDeg: number | null;
  oneLine: boolean;
}

export interface Scene {
  map: SiteMap | null;
  stations: readonly StationView[];
  trial: Trial | null;
  /** Points of the open card with their 95 % in plan. */
  circles: { at: Triple; ellipse: EllipseView | null; point: string; doubt: boolean }[];
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
  /** A point by tape: each tape about its mark, and where the first two meet. */
  taped: { tapes: { point: string; at: Pair; metres: number }[]; places: { side: "left" | "right"; at: Pair; chosen: boolean }[] } | null;
  /** Recorded points to choose from. */
  points: { point: string; at: Triple; chosen: number | null }[];
  /** Show the cross in the middle, where a corner would go. */
  cross: boolean;
}

export const emptyScene = (): Scene => ({
  map: null, stations: [], trial: null, circles: [], index: null, lit: new Set(), mark: null, sketch: null, dig: null, preview: null, taped: null, points: [], cross: false,
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
