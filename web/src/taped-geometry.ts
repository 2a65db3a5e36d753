// Two tapes on the plan: the circles they sweep and the two places where they meet. For drawing and for telling the sides
// apart only; the position that is recorded is the server's.

import type { Pair } from "./wire";

export type Side = "left" | "right";

export interface Tape {
  at: Pair;
  metres: number;
}

/** Where two circles meet, by side of the line from the first to the second; null when they do not. */
export function meetings(first: Tape, second: Tape): Record<Side, Pair> | null {
  const [de, dn] = [second.at[0] - first.at[0], second.at[1] - first.at[1]];
  const base = Math.hypot(de, dn);
  if (base === 0) return null;
  const along = (first.metres ** 2 - second.metres ** 2 + base ** 2) / (2 * base);
  const square = first.metres ** 2 - along ** 2;
  if (!(square >= 0)) return null;
  const off = Math.sqrt(square);
  const [e, n] = [de / base, dn / base];
  // Left of the line, looking along it, is a quarter turn anticlockwise.
  return {
    left: [first.at[0] + along * e - off * n, first.at[1] + along * n + off * e],
    right: [first.at[0] + along * e + off * n, first.at[1] + along * n - off * e],
  };
}

/** How much two tapes fall short of each other, or overlap, where they do not meet; 0 where they do. */
export function missing(first: Tape, second: Tape): number {
  const base = Math.hypot(second.at[0] - first.at[0], second.at[1] - first.at[1]);
  return Math.max(0, base - first.metres - second.metres, Math.abs(first.metres - second.metres) - base);
}
