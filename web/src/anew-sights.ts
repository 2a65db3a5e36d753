// What of a set-up is different when it is set anew. The readings are never altered.

import type { KnownSight, SightKind } from "./wire";

export type Part = SightKind | "out";

/** The readings as booked, with parts changed and figures put right; no reading is ever altered. */
export function anewSights(sights: readonly KnownSight[], parts: ReadonlyMap<string, Part>, right: ReadonlyMap<string, { height?: string; prism?: string }>): KnownSight[] {
  return sights.flatMap((sight) => {
    const part = parts.get(sight.target) ?? sight.sighted_as;
    if (part === "out") return [];
    const { height, prism } = right.get(sight.target) ?? {};
    return [{ ...sight, sighted_as: part, ...(height === undefined ? {} : { target_height_m: height }), ...(prism === undefined ? {} : { prism_mm: prism }) }];
  });
}
