// Searched ground on the plan: which search clears the hatch, what a partial one says, and where its words stand.

import { px, py } from "./plan-pen";
import type { Look } from "./plan-scene";
import type { MapArea } from "./wire";

/** Only a search for every service clears the hatch: one for power says nothing about gas. */
export const searchedForAll = (area: MapArea): boolean => area.counts && area.services.length === 0;

/** What stands on an area that does not clear the hatch, services by their letters; blank on one that does. */
export function searchWords(area: MapArea, lettersOf: (slug: string) => string): string {
  if (searchedForAll(area)) return "";
  const letters = area.services.map(lettersOf).join(", ");
  if (!area.counts) return letters ? `${letters}: search not counted` : "search not counted";
  return `${letters} only`;
}

/** A box on the screen, pixels: what is left free of keys and edges. */
interface Room { left: number; top: number; right: number; bottom: number }

const LEAST_PX = 48;

const room = (look: Look): Room => ({ left: 6, top: 22, right: look.width - 70, bottom: look.height - 46 });

/**
 * Where an area's words begin, pixels from the top left: its first corner while that is in view, else the leftmost
 * place of what is in view of it. Null when nothing of it is in view.
 */
export function wordsAt(area: MapArea, look: Look): readonly [number, number] | null {
  const r = room(look);
  const ring = area.ring.map((at) => [px(look, at[0]), py(look, at[1])] as const);
  const first = ring[0];
  const across = ring.map(([x]) => x);
  // Drawn so small that its words would only lie on others, it keeps its dashes alone.
  if (!first || Math.max(...across) - Math.min(...across) < LEAST_PX) return null;
  if (first[0] >= r.left - 4 && first[0] <= r.right - 30 && first[1] >= r.top && first[1] <= r.bottom) return [first[0] + 4, first[1] - 4];
  const seen = clip(ring, r);
  if (seen.length < 3) return null;
  // Toward the left edge, and the upper of two places equally far left: words run to the right and must stay inside.
  const [x, y] = seen.reduce((best, at) => (at[0] < best[0] - 0.5 || (Math.abs(at[0] - best[0]) <= 0.5 && at[1] < best[1]) ? at : best));
  return [Math.max(x, r.left) + 4, Math.min(Math.max(y + 16, r.top + 14), r.bottom)];
}

/** The part of a ring inside a box (Sutherland and Hodgman's walk round the four sides). */
function clip(ring: readonly (readonly [number, number])[], r: Room): (readonly [number, number])[] {
  type At = readonly [number, number];
  const sides: [(p: At) => number][] = [[(p) => p[0] - r.left], [(p) => r.right - p[0]], [(p) => p[1] - r.top], [(p) => r.bottom - p[1]]];
  let left: readonly At[] = ring;
  for (const [inside] of sides) {
    const kept: At[] = [];
    left.forEach((b, i) => {
      const a = left[(i + left.length - 1) % left.length] as At;
      const [da, db] = [inside(a), inside(b)];
      if (da >= 0 !== db >= 0) kept.push([a[0] + ((b[0] - a[0]) * da) / (da - db), a[1] + ((b[1] - a[1]) * da) / (da - db)]);
      if (db >= 0) kept.push(b);
    });
    left = kept;
  }
  return [...left];
}
