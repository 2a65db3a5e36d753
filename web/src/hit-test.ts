// What a touch on the plan means.

import { nearestOnLine, type OnLine, type Place } from "./project";
import type { MapArea, MapRun, StationView } from "./wire";

export interface Hit {
  run: MapRun;
  on: OnLine;
}

/** Boxes round runs, made once for a map, so that a touch need not walk every leg. */
export class RunIndex {
  private readonly boxes: Float64Array;

  constructor(readonly runs: readonly MapRun[]) {
    this.boxes = new Float64Array(runs.length * 4);
    for (const [i, run] of runs.entries()) {
      let [w, s, e, n] = [Infinity, Infinity, -Infinity, -Infinity];
      for (const [x, y] of run.line) {
        w = Math.min(w, x); e = Math.max(e, x);
        s = Math.min(s, y); n = Math.max(n, y);
      }
      this.boxes.set([w, s, e, n], i * 4);
    }
  }

  /** Calls back with each run whose box meets this one. */
  within(west: number, south: number, east: number, north: number, take: (run: MapRun) => void): void {
    const b = this.boxes;
    for (let i = 0; i < this.runs.length; i += 1) {
      const k = i * 4;
      if ((b[k] as number) <= east && (b[k + 2] as number) >= west && (b[k + 1] as number) <= north && (b[k + 3] as number) >= south) {
        take(this.runs[i] as MapRun);
      }
    }
  }

  /** The runs within `reach` metres of a place, nearest first; a run's own half width counts as touched. */
  hits(place: Place, reach: number): Hit[] {
    const found: Hit[] = [];
    const r = reach + 2;
    this.within(place.easting - r, place.northing - r, place.easting + r, place.northing + r, (run) => {
      const on = nearestOnLine(run.line, place);
      if (on && on.distance - run.width_m / 2 <= reach) found.push({ run, on });
    });
    return found.sort((a, b) => a.on.distance - b.on.distance);
  }
}

/** True when a place lies in a ring (even-odd). */
export function inRing(ring: readonly (readonly [number, number])[], place: Place): boolean {
  let inside = false;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
    const [xi, yi] = ring[i] as readonly [number, number];
    const [xj, yj] = ring[j] as readonly [number, number];
    if (yi > place.northing !== yj > place.northing
      && place.easting < ((xj - xi) * (place.northing - yi)) / (yj - yi) + xi) inside = !inside;
  }
  return inside;
}

/** The searched areas at a place. */
export const areasAt = (areas: readonly MapArea[], place: Place): MapArea[] => areas.filter((a) => inRing(a.ring, place));

/** The station at a place, nearest first. */
export const stationAt = (stations: readonly StationView[], place: Place, reach: number): StationView | undefined =>
  [...stations].map((s) => ({ s, off: Math.hypot(s.at[0] - place.easting, s.at[1] - place.northing) }))
    .filter((c) => c.off <= reach).sort((a, b) => a.off - b.off)[0]?.s;
