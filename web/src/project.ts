// Plane geometry that the page needs to show things: nothing here decides a verdict.

export interface Place {
  easting: number;
  northing: number;
}

type Line = readonly (readonly number[])[];

/** Corners read from pasted text, or what is wrong with it. */
export type Corners = { places: Place[]; wrong: null } | { places: null; wrong: string };

/** Reads `E,N E,N ...`: each pair joined by a comma, pairs parted by spaces, semicolons or new lines. */
export function parseCorners(text: string): Corners {
  const pieces = text.trim().split(/[\s;]+/).filter((p) => p !== "");
  // `E, N` with a space after the comma leaves a piece that ends in a comma: join it to the next.
  const pairs: string[] = [];
  for (let i = 0; i < pieces.length; i += 1) {
    const piece = pieces[i] ?? "";
    if (piece.endsWith(",") && i + 1 < pieces.length) {
      pairs.push(piece + (pieces[i + 1] ?? ""));
      i += 1;
    } else pairs.push(piece);
  }
  const places: Place[] = [];
  for (const [i, pair] of pairs.entries()) {
    const parts = pair.split(",");
    const [e, n] = parts;
    if (parts.length !== 2 || !isDecimal(e) || !isDecimal(n)) {
      return { places: null, wrong: `corner ${i + 1}: "${pair}" is not an easting and a northing; write it as E,N with a point for decimals` };
    }
    places.push({ easting: Number(e), northing: Number(n) });
  }
  const first = places[0];
  const last = places.at(-1);
  if (first && last && places.length > 3 && first.easting === last.easting && first.northing === last.northing) places.pop();
  return { places, wrong: null };
}

const isDecimal = (text: string | undefined): boolean => text !== undefined && /^[+-]?\d+(\.\d+)?$/.test(text);

/** Corners as they are pasted. */
export const cornersText = (places: readonly Place[]): string =>
  places.map((p) => `${p.easting.toFixed(3)},${p.northing.toFixed(3)}`).join(" ");

/** Area of a ring, square metres, whichever way it turns. */
export function ringArea(ring: readonly Place[]): number {
  const origin = ring[0];
  if (!origin) return 0;
  let twice = 0;
  for (let i = 0; i < ring.length; i += 1) {
    const a = ring[i] as Place;
    const b = ring[(i + 1) % ring.length] as Place;
    twice += (a.easting - origin.easting) * (b.northing - origin.northing)
      - (b.easting - origin.easting) * (a.northing - origin.northing);
  }
  return Math.abs(twice) / 2;
}

/** Length of a line in plan, metres. */
export function lineLength(line: readonly Place[]): number {
  let sum = 0;
  for (let i = 1; i < line.length; i += 1) {
    const a = line[i - 1] as Place;
    const b = line[i] as Place;
    sum += Math.hypot(b.easting - a.easting, b.northing - a.northing);
  }
  return sum;
}

/** An axis to look along: a place and a unit direction. */
export interface Axis {
  from: Place;
  along: { easting: number; northing: number };
  length: number;
}

/** The axis of a ring or line: its longest side, so that a section is read along the dig. */
export function longestSide(points: Line, closed: boolean): Axis | null {
  let best: Axis | null = null;
  const sides = closed ? points.length : points.length - 1;
  for (let i = 0; i < sides; i += 1) {
    const a = points[i];
    const b = points[(i + 1) % points.length];
    if (!a || !b) continue;
    const de = (b[0] as number) - (a[0] as number);
    const dn = (b[1] as number) - (a[1] as number);
    const length = Math.hypot(de, dn);
    if (length > 0 && (!best || length > best.length)) {
      best = { from: { easting: a[0] as number, northing: a[1] as number }, along: { easting: de / length, northing: dn / length }, length };
    }
  }
  return best;
}

/** Distance along an axis and square off it, right positive. */
export function onAxis(axis: Axis, place: Place): { along: number; right: number } {
  const de = place.easting - axis.from.easting;
  const dn = place.northing - axis.from.northing;
  return {
    along: de * axis.along.easting + dn * axis.along.northing,
    right: de * axis.along.northing - dn * axis.along.easting,
  };
}

/** Where on a line a place is nearest. */
export interface OnLine {
  distance: number;
  chainage: number;
  leg: number;
  share: number;
}

/** The nearest point of a line to a place, in plan. Null for an empty line. */
export function nearestOnLine(line: Line, place: Place): OnLine | null {
  const first = line[0];
  if (!first) return null;
  let best: OnLine = {
    distance: Math.hypot(place.easting - (first[0] as number), place.northing - (first[1] as number)),
    chainage: 0, leg: 0, share: 0,
  };
  let run = 0;
  for (let i = 1; i < line.length; i += 1) {
    const a = line[i - 1] as readonly number[];
    const b = line[i] as readonly number[];
    const ae = a[0] as number;
    const an = a[1] as number;
    const de = (b[0] as number) - ae;
    const dn = (b[1] as number) - an;
    const square = de * de + dn * dn;
    const length = Math.sqrt(square);
    const t = square === 0 ? 0 : Math.min(1, Math.max(0, ((place.easting - ae) * de + (place.northing - an) * dn) / square));
    const distance = Math.hypot(place.easting - ae - t * de, place.northing - an - t * dn);
    if (distance < best.distance) best = { distance, chainage: run + t * length, leg: i - 1, share: t };
    run += length;
  }
  return best;
}

/** The place at a chainage along a line, held to its ends. */
export function atChainage(line: Line, chainage: number): Place | null {
  const first = line[0];
  if (!first) return null;
  let left = Math.max(0, chainage);
  for (let i = 1; i < line.length; i += 1) {
    const a = line[i - 1] as readonly number[];
    const b = line[i] as readonly number[];
    const de = (b[0] as number) - (a[0] as number);
    const dn = (b[1] as number) - (a[1] as number);
    const length = Math.hypot(de, dn);
    if (left <= length && length > 0) {
      return { easting: (a[0] as number) + (de * left) / length, northing: (a[1] as number) + (dn * left) / length };
    }
    left -= length;
  }
  const last = line.at(-1) as readonly number[];
  return { easting: last[0] as number, northing: last[1] as number };
}

/** A square round a place, for asking what is under it. */
export function squareRound(place: Place, side: number): [number, number][] {
  const h = side / 2;
  const { easting: e, northing: n } = place;
  return [[e - h, n - h], [e + h, n - h], [e + h, n + h], [e - h, n + h]];
}

/** A round number of 1, 2 or 5 times a power of ten, at least `least`. */
export function roundStep(least: number): number {
  const power = 10 ** Math.floor(Math.log10(least));
  for (const k of [1, 2, 5, 10]) if (k * power >= least * (1 - 1e-9)) return k * power;
  return 10 * power;
}

/** A level a metre or more below every run given; null without one, since no level can be made up. */
export function floorBelow(runs: readonly { line: readonly (readonly [number, number, number])[] }[]): number | null {
  const levels = runs.flatMap((run) => run.line.map((at) => at[2]));
  return levels.length === 0 ? null : Math.floor(Math.min(...levels) - 1);
}
