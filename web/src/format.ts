// Every number and date that a person reads passes through here. Units are always shown by the caller's side of
// this file; rounding is to the safe side, as the server does it, with the same allowance for binary noise.

import type { EllipseView } from "./wire";

const NOISE_MM = 1e-6;

/** Metres rounded down to the millimetre: covers, gaps. */
export const down = (metres: number): number => Math.floor(metres * 1000 + NOISE_MM) / 1000 + 0;

/** Metres rounded up to the millimetre: uncertainties, greatest depths. */
export const up = (metres: number): number => Math.ceil(metres * 1000 - NOISE_MM) / 1000 + 0;

/** Metres to the nearest millimetre: positions and levels as they are. */
export const near = (metres: number): number => Math.round(metres * 1000) / 1000 + 0;

function three(value: number): string {
  const text = value.toFixed(3);
  return text.startsWith("-") ? `\u2212${text.slice(1)}` : text;
}

/** A cover or gap: rounded down, three decimals, no unit. */
export const coverText = (metres: number): string => three(down(metres));

/** A cover as a depth and its word: what stands above the surface is said so, and not given a negative depth. */
export function depthText(cover: number): [string, string] {
  return down(cover) < 0 ? [three(-down(cover)), "above"] : [three(down(cover)), "deep"];
}

/** A greatest depth: rounded up. */
export const deepText = (metres: number): string => three(up(metres));

/** A level or coordinate: to the nearest millimetre. */
export const levelText = (metres: number): string => three(near(metres));

/** An uncertainty at 95 %, rounded up; a missing one is said, never blank. */
export const plusMinus = (metres: number | null): string => (metres === null ? "\u00b1 not known" : `\u00b1 ${three(up(metres))}`);

/** A 95 % half-axis in short words, rounded up: `4 mm`, or metres from one on. */
const axisWords = (metres: number): string => (up(metres) < 1 ? `${Math.round(up(metres) * 1000)}` : three(up(metres)));

/**
 * A point's 95 % ellipse in short words: `\u00b1 4 by 2 mm at 95 %, longest toward 045\u00b0`.
 *
 * Both axes are rounded up. One that comes out as wide as long is said to be alike every way.
 */
export function ellipseWords(ellipse: EllipseView | null): string {
  if (ellipse === null) return "\u00b1 not known";
  const [major, minor] = [axisWords(ellipse.semi_major_m), axisWords(ellipse.semi_minor_m)];
  const unit = up(ellipse.semi_major_m) < 1 ? "mm" : "m";
  if (major === minor || ellipse.azimuth_deg === null) return `\u00b1 ${major}\u00a0${unit} at 95 % every way`;
  const short = unit === "m" ? three(up(ellipse.semi_minor_m)) : minor;
  const toward = String(Math.round(ellipse.azimuth_deg) % 180).padStart(3, "0");
  return `\u00b1 ${major} by ${short}\u00a0${unit} at 95 %, longest toward ${toward}\u00b0`;
}

/** A share in whole percent, rounded down. */
export const percentText = (share: number): string => `${Math.floor(share + 1e-9)} %`;

/** A signed change, for vertical gaps: a plus for ground left, a minus for none. */
export const signedText = (metres: number): string => {
  const value = down(metres);
  return value > 0 ? `+${three(value)}` : three(value);
};

/**
 * The shallowest depth at which a service may be met: least cover, less the 95 % of service and surface.
 *
 * The two are taken off one after the other, not in quadrature, which errs to the shallow side. Null when any of
 * the three is not known: a figure that leaves one out would be too deep.
 */
export function metFromDepth(cover: number | null, level95: number | null, surface95: number | null): number | null {
  if (cover === null || level95 === null || surface95 === null) return null;
  return down(cover - level95 - surface95);
}

/** The highest level at which a service may be met: its outside top and its 95 %, rounded up. */
export function metFromLevel(top: number, level95: number | null): number | null {
  return level95 === null ? null : up(top + level95);
}

/** A length for a scale bar or step: `5 m`, `200 mm`. */
export function lengthWords(metres: number): string {
  if (metres >= 1) return `${Number(metres.toFixed(3))} m`;
  return `${Number((metres * 1000).toFixed(1))} mm`;
}

/** An RFC 3339 time as `2026-03-04 10:15`, in UTC, or a date alone when that is all there is. */
export function dateWords(text: string): string {
  const found = /^(\d{4}-\d{2}-\d{2})(?:[T ](\d{2}:\d{2}))?/.exec(text);
  if (!found) return text;
  return found[2] ? `${found[1]} ${found[2]}` : (found[1] ?? text);
}

/** A number of bytes in words. */
export function bytesWords(bytes: number): string {
  if (bytes < 1000) return `${bytes} bytes`;
  if (bytes < 1e6) return `${(bytes / 1e3).toFixed(0)} kB`;
  return `${(bytes / 1e6).toFixed(1)} MB`;
}

/** A slug as words: `not-proved` becomes `not proved`. */
export const slugWords = (slug: string): string => slug.replaceAll("-", " ");

/** A plural: `1 run`, `2 runs`. */
export const count = (n: number, word: string, many = `${word}s`): string => `${n} ${n === 1 ? word : many}`;

/** A head as a person copies it: number and first and last digits. */
export const headShort = (head: { n: number; hex: string }): string => `${head.n}:${head.hex.slice(0, 12)}`;

/** A typed decimal with a point; null when it is anything else. A comma is not taken for a point: it is ambiguous. */
export function decimal(text: string): number | null {
  const trimmed = text.trim().replace(/^\u2212/, "-");
  if (!/^[+-]?(\d+\.?\d*|\.\d+)$/.test(trimmed)) return null;
  const value = Number(trimmed);
  return Number.isFinite(value) ? value : null;
}

/** Metres that came rounded to the millimetre, as millimetres with a unit. */
export const mmWords = (metres: number): string => `${Math.round(Math.abs(metres) * 1000)}\u00a0mm`;

/** The same with its sign, without a unit. */
export function signedMm(metres: number): string {
  const mm = Math.round(metres * 1000) + 0;
  return mm > 0 ? `+${mm}` : mm < 0 ? `\u2212${-mm}` : "0";
}
