// What an instrument would read from a station to known points, worked out here and nowhere in the program: plain
// trigonometry, with the earth's curvature and the usual refraction (k 0.13, R 6,371 km: common practice).

const RADIUS = 6371000;
const REFRACTION = 0.13;

/** Degrees as `ddd-mm-ss.s`. */
export function dms(degrees) {
  const tenths = Math.round((((degrees % 360) + 360) % 360) * 36000) % 12960000;
  const two = (v) => String(v).padStart(2, "0");
  return `${Math.floor(tenths / 36000)}-${two(Math.floor(tenths / 600) % 60)}-${((tenths % 600) / 10).toFixed(1).padStart(4, "0")}`;
}

/** One sight from an instrument's axis to a point: direction and zenith angle in degrees, slope distance in metres. */
export function sight(axis, orientation, point, targetHeight, scale = 1) {
  const [de, dn] = [point[0] - axis[0], point[1] - axis[1]];
  const level = Math.hypot(de, dn) / scale;
  const rise = point[2] + targetHeight - axis[2] - ((1 - REFRACTION) * level ** 2) / (2 * RADIUS);
  return {
    direction: ((Math.atan2(de, dn) * 180) / Math.PI - orientation + 720) % 360,
    zenith: (Math.atan2(level, rise) * 180) / Math.PI,
    slope: Math.hypot(level, rise),
  };
}
