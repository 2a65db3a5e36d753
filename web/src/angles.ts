// Angles as they are typed: read in the unit that the person stated, never in one that was guessed, and said back in
// words. The server reads them again, digit for digit; this is only so that a wrong unit is seen at once.

import type { AngleRead } from "./wire";

/** The units with what a reading looks like in each; the same four ways the server reads. */
export const ANGLE_UNITS: readonly { value: AngleRead; name: string; example: string }[] = [
  { value: "dms", name: "degrees, minutes, seconds", example: "123-45-06.7" },
  { value: "packed-dms", name: "packed d.mmss", example: "123.45067" },
  { value: "degrees", name: "decimal degrees", example: "123.7519" },
  { value: "gon", name: "gon, 400 to a circle", example: "137.5021" },
];

/** Degrees, or what is wrong with the text. */
export type Angle = { degrees: number; wrong: null } | { degrees: null; wrong: string };

const wrong = (text: string): Angle => ({ degrees: null, wrong: text });
const PLAIN = /^(\d+\.?\d*|\.\d+)$/;

function sexagesimal(d: string, m: string, s: string): Angle {
  if (Number(m) >= 60) return wrong("minutes of 60 or more: is it another unit?");
  if (Number(s) >= 60) return wrong("seconds of 60 or more: is it another unit?");
  return { degrees: Number(d) + Number(m) / 60 + Number(s) / 3600, wrong: null };
}

/** Reads an angle of 0 to a full circle. */
export function readAngle(text: string, unit: AngleRead): Angle {
  const trimmed = text.trim();
  const example = ANGLE_UNITS.find((u) => u.value === unit)?.example ?? "";
  const not = wrong(`write it like ${example}`);
  let made: Angle;
  if (unit === "dms") {
    if (trimmed.includes(",") || trimmed.startsWith("-")) return not;
    const [d, m, s, ...more] = trimmed.split(/[^0-9.]+/).filter((p) => p !== "");
    if (d === undefined || m === undefined || s === undefined || more.length > 0) return not;
    if (!/^\d+$/.test(d) || !/^\d+$/.test(m) || !PLAIN.test(s)) return not;
    made = sexagesimal(d, m, s);
  } else {
    if (!PLAIN.test(trimmed)) return not;
    if (unit === "packed-dms") {
      const [d = "", rest = ""] = trimmed.split(".");
      const digits = rest.padEnd(4, "0");
      made = sexagesimal(d || "0", digits.slice(0, 2), `${digits.slice(2, 4)}.${digits.slice(4) || "0"}`);
    } else made = { degrees: unit === "gon" ? Number(trimmed) * 0.9 : Number(trimmed), wrong: null };
  }
  if (made.degrees !== null && made.degrees > 360) return wrong("beyond the circle: is it another unit?");
  return made;
}

const pad = (v: number, n: number): string => v.toFixed(n).padStart(n === 0 ? 2 : 3 + n, "0");

/** Degrees as `123 degrees 45 minutes 06.7 seconds`, short. */
export function dmsText(degrees: number): string {
  // Tenths of a second, rounded once, so that no 60 appears.
  const tenths = Math.round(degrees * 36000) % 12960000;
  const seconds = (tenths % 600) / 10;
  const minutes = Math.floor(tenths / 600) % 60;
  return `${Math.floor(tenths / 36000)}\u00b0\u00a0${pad(minutes, 0)}\u2032\u00a0${pad(seconds, 1)}\u2033`;
}

/** A zenith angle in words: which way the telescope looked. On the other face it reads beyond 180. */
export function zenithWords(degrees: number): string {
  const other = degrees > 180;
  const tilt = 90 - (other ? 360 - degrees : degrees);
  const way = Math.abs(tilt) < 0.05 ? "level" : `${Math.abs(tilt).toFixed(1)}\u00b0 ${tilt > 0 ? "upward" : "downward"}`;
  return `${way}${other ? ", face right" : ""}`;
}
