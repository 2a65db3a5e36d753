// Plane geometry of a set-up that is drawn before anything is worked out: the circle through three known points, and the
// widest gap between sights. Figures and verdicts come from the server.

import type { Pair } from "./wire";

/** The circle through three places; null when they lie on one line, or so nearly that it would be no circle to look at. */
export function circleThrough([a, b, c]: readonly [Pair, Pair, Pair]): { centre: Pair; radiusM: number } | null {
  // Reckoned from the first place, so that large eastings cost no digits.
  const [bx, by, cx, cy] = [b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]];
  const twice = 2 * (bx * cy - by * cx);
  const span = Math.max(Math.hypot(bx, by), Math.hypot(cx, cy), Math.hypot(cx - bx, cy - by));
  if (Math.abs(twice) < 1e-6 * span * span) return null;
  const [bb, cc] = [bx * bx + by * by, cx * cx + cy * cy];
  const [e, n] = [(cy * bb - by * cc) / twice, (bx * cc - cx * bb) / twice];
  const radiusM = Math.hypot(e, n);
  return radiusM > 50 * span ? null : { centre: [a[0] + e, a[1] + n], radiusM };
}

/** The sector that holds every bearing: from and to, radians clockwise from grid north; null with fewer than two. */
export function sectorOf(at: Pair, points: readonly (readonly number[])[]): { from: number; to: number } | null {
  const bearings = points.map((p) => Math.atan2((p[0] as number) - at[0], (p[1] as number) - at[1])).sort((x, y) => x - y);
  if (bearings.length < 2) return null;
  let [from, to, gap] = [0, 0, -1];
  bearings.forEach((bearing, i) => {
    const next = i + 1 < bearings.length ? (bearings[i + 1] as number) : (bearings[0] as number) + 2 * Math.PI;
    // The widest gap is what the sector leaves out: it begins where that gap ends.
    if (next - bearing > gap) [from, to, gap] = [next, bearing + 2 * Math.PI, next - bearing];
  });
  return { from, to };
}
