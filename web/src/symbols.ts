// Few symbols, drawn here from the trade's own shapes: trench, pole, pipe, lid. The same in page and legend.

import { svg } from "./dom";

const drawing = (viewBox: string, look: string, ...parts: SVGElement[]): SVGSVGElement =>
  svg("svg", { viewBox, class: look, "aria-hidden": "true", focusable: "false" }, ...parts);

const path = (d: string, look: string): SVGPathElement => svg("path", { d, class: look });
const circle = (cx: number, cy: number, r: number, look: string): SVGCircleElement => svg("circle", { cx, cy, r, class: look });

/** The tripod from above, in a square of 24: three legs and the instrument. The plan draws the same. */
export const TRIPOD_PATH = "M12 7.5V0.500M8.100 14.250L2 17.800M15.900 14.250L22 17.800M7.500 12A4.500 4.500 0 1 0 16.500 12A4.500 4.500 0 1 0 7.500 12M11.500 12A0.500 0.500 0 1 0 12.500 12A0.500 0.500 0 1 0 11.500 12";

/** The mark of doubt: a filled lozenge with a stroke and a dot cut out. */
export const DOUBT_PATH = "M12 0.500L23.500 12L12 23.500L0.500 12ZM10.900 6V13.500H13.100V6ZM10.900 15.500V17.700H13.100V15.500Z";

/** A station as page and legend show it. */
export const stationMark = (): SVGSVGElement => drawing("0 0 24 24", "tripod", path(TRIPOD_PATH, "line"));

/** Doubt as page and legend show it; always beside the word. */
export const doubtSign = (): SVGSVGElement => drawing("0 0 24 24", "doubt-sign", svg("path", { d: DOUBT_PATH, "fill-rule": "evenodd" }));

/** A control point: solid when it finds the station, empty when it checks it. */
export const controlMark = (solid: boolean): SVGSVGElement => drawing("0 0 24 24", "control-mark", path("M12 2L22 20H2Z", solid ? "solid" : "line"));

const sighted = (x: number, y: number, solid: boolean): SVGElement[] => [
  path(`M60 50L${x} ${y}`, solid ? "line" : "line dashed"), path(`M${x} ${y - 9}l9 16h-18z`, solid ? "solid" : "empty"),
];

/** Four known points about an instrument: three solid that find it, one empty that checks it. */
export function setUpPicture(): SVGSVGElement {
  return drawing("0 0 120 100", "set-up-picture", ...sighted(16, 20, true), ...sighted(104, 28, true), ...sighted(34, 88, true), ...sighted(100, 84, false),
    svg("circle", { cx: 60, cy: 50, r: 12, class: "ground" }), svg("g", { transform: "translate(48 38)" }, path(TRIPOD_PATH, "line red")));
}

/** Small marks for the bar: what a door looks like in the ground. */
export function doorMark(door: string): SVGSVGElement {
  const ground = "M1 8h5v13h12V8h5";
  switch (door) {
    case "record":
      return drawing("0 0 24 24", "mark", path(ground, "line"), circle(12, 17.5, 2.6, "line"), path("M12 15V2.5M9.5 5l2.500-2.500 2.500 2.500", "line red"));
    case "cover":
      return drawing("0 0 24 24", "mark", path(ground, "line"), circle(12, 17.5, 2.6, "line"), path("M12 8v7M9.500 8h5M9.500 15h5", "line red"));
    case "dig":
      return drawing("0 0 24 24", "mark", path("M1 8h5M18 8h5", "line"), path("M6 8v13h12V8", "line dashed"), path("M7 21l2-3 2 3 2-3 2 3 2-3", "line red"));
    default:
      return drawing("0 0 24 24", "mark", path("M4 3h14a2 2 0 0 1 2 2v16H6a2 2 0 0 1-2-2z", "line"), path("M8 3v18M11 8h6M11 12h6", "line"), path("M14 16h3", "line red"));
  }
}

/** The ground cut open behind a door, for the first page. Three of them, side by side, make one piece of ground. */
export function trench(door: "record" | "cover" | "dig"): SVGSVGElement {
  const turf: SVGElement[] = [];
  for (let x = 4; x < 90; x += 9) turf.push(path(`M${x + 6} 60l-7 9`, "turf"));
  for (let x = 234; x < 320; x += 9) turf.push(path(`M${x + 6} 60l-7 9`, "turf"));
  const walls = path("M0 60H92V214H228V60H320", "cut");
  const parts: SVGElement[] = [];
  if (door === "record") {
    parts.push(
      ...turf, walls,
      path("M92 206h136", "bed"),
      circle(128, 189, 17, "pipe"), circle(128, 189, 13, "pipe-in"), circle(180, 196, 10, "pipe"), circle(180, 196, 7, "pipe-in"),
      path("M128 172V-6", "pole"), path("M119 -2h18l-9 14z", "prism"),
      path("M104 172h48", "tick"),
    );
  } else if (door === "cover") {
    const fill: SVGElement[] = [];
    for (let k = 0; k < 26; k += 1) fill.push(circle(98 + ((k * 37) % 126), 128 + ((k * 23) % 74), 1.2 + (k % 3) * 0.5, "stone"));
    parts.push(
      ...turf, ...fill, walls,
      path("M92 120q30-14 60-4t76-8", "backfill"),
      circle(150, 193, 15, "pipe"), circle(150, 193, 11, "pipe-in"),
      path("M150 60V178M140 60h20M140 178h20", "dimension"),
    );
  } else {
    for (let x = 94; x < 234; x += 9) turf.push(path(`M${x + 6} 60l-7 9`, "turf"));
    const hatch: SVGElement[] = [];
    for (let x = -180; x < 320; x += 12) hatch.push(path(`M${x} 236L${x + 176} 60`, "unknown"));
    parts.push(
      svg("g", { class: "clip" }, ...hatch),
      ...turf, path("M0 60H320", "cut"), path("M92 60V178H228V60", "planned"),
      path("M104 178l8-13 8 13 8-13 8 13 8-13 8 13 8-13 8 13 8-13 8 13 8-13 8 13", "teeth"),
      circle(160, 204, 12, "pipe loose"),
    );
  }
  return drawing("0 -20 320 256", `trench trench-${door}`, ...parts);
}

/** What the pole is standing on: the cross-section of a pipe with the place touched. */
export function touchedPicture(touched: string): SVGSVGElement {
  const base = [circle(24, 27, 15, "line"), circle(24, 27, 11, "line thin")];
  const pole = (x: number, y: number): SVGElement[] => [path(`M${x} ${y}V2`, "line red"), circle(x, y, 2.6, "dot")];
  switch (touched) {
    case "outside-top": return drawing("0 0 48 48", "touched", ...base, ...pole(24, 12));
    case "invert": return drawing("0 0 48 48", "touched", ...base, ...pole(24, 38));
    case "centre": return drawing("0 0 48 48", "touched", ...base, ...pole(24, 27));
    case "outside-bottom": return drawing("0 0 48 48", "touched", ...base, ...pole(24, 42));
    case "side": return drawing("0 0 48 48", "touched", ...base, ...pole(39, 27));
    case "ground": return drawing("0 0 48 48", "touched", path("M2 40h44M8 40l-5 6M18 40l-5 6M28 40l-5 6M38 40l-5 6", "line"), ...pole(24, 40));
    default: return drawing("0 0 48 48", "touched", path("M12 42h24v-12h-24z", "line"), ...pole(24, 30));
  }
}

/** A stretch of line as the plan draws it: dash pattern in pixels, letters on it. */
export function lineSample(letters: string, dash: readonly number[], ink: string, seen: boolean): SVGSVGElement {
  const line = svg("line", { x1: 2, x2: 78, y1: 12, y2: 12, stroke: ink, "stroke-width": 3, "stroke-dasharray": dash.join(" ") || null });
  const hollow = seen ? null : svg("line", { x1: 2, x2: 78, y1: 12, y2: 12, class: "hollow-core" });
  const text = svg("text", { x: 40, y: 16.5, "text-anchor": "middle", class: "sample-letters", fill: ink }, letters);
  return svg("svg", { viewBox: "0 0 80 24", class: "line-sample", "aria-hidden": "true" }, line, hollow, text);
}
