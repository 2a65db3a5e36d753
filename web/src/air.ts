// Air in words, so that a pressure in another unit, or brought to sea level, is seen at once.

/**
 * The height above the sea, metres, at which the standard atmosphere has a pressure in hPa; null beyond what open air
 * on a site can have. (International Standard Atmosphere, ISO 2533: 1013.25 hPa and 15 degrees at the sea, 6.5 degrees
 * a kilometre.)
 */
export function heightOfPressure(hpa: number): number | null {
  if (hpa < 450 || hpa > 1090) return null;
  return 44330.77 * (1 - (hpa / 1013.25) ** 0.190263);
}
