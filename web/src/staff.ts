// The staff: a levelling staff stood in the hole at the place touched. The surface is at its top, each service a mark
// at its level with its 95 % as a bar and its size to scale, the dig floor a line, the hand zone a band.

import { el, svg, type Child } from "./dom";
import { levelText } from "./format";
import { service, serviceInk } from "./services";
import { graduations, spread, staffRange, staffScale, type Span, type StaffScale } from "./staff-scale";

export interface StaffMark {
  key: string;
  /** What stands on its tag: a number and letters. */
  tag: string;
  slug: string;
  /** Lowest and highest level of the outside top. */
  low: number;
  high: number;
  /** 95 % of the level; null when not known. */
  u95: number | null;
  /** Outside height, for drawing to scale. */
  size: number;
  /** Hand zone round it; null when no rule gives one. */
  zone: number | null;
  seen: boolean;
  row: Child[];
}

export interface StaffModel {
  surface: { min: number; max: number; text: string } | null;
  floor: { min: number; max: number; text: string } | null;
  marks: StaffMark[];
}

const BODY = { left: 50, width: 30 };
const LANES = [99, 118, 137] as const;
const LANE_HALF = 8;
const EDGE = 150;

/** How tall a staff at the edge is: a share of the window on a desk, short where it shares a column with the plan. */
export const staffHeight = (share: number): number => (innerWidth < 1100 ? Math.max(210, innerHeight * 0.28) : Math.max(280, innerHeight * share));

/** Draws a staff with a row of words beside each mark. Rows may be touched: the other views answer. */
export function drawStaff(model: StaffModel, height: number, pick: (key: string | null) => void): HTMLElement {
  const marks = [...model.marks].sort((a, b) => b.high + (b.u95 ?? 0) - a.high - (a.u95 ?? 0));
  // A staff with no level on it would show figures that nobody gave.
  const range = staffRange(spans(model));
  if (!range) return el("p.quiet", { "data-role": "no-level" }, "No level is known here, so the staff has no scale.");
  const host = el("div.staff-stand");
  const drawing = el("div.staff-drawing");
  const rows = el("ol.staff-rows", { "aria-label": "In the order the bucket meets them" });
  host.append(drawing, rows);
  const items = marks.map((mark) => {
    const node = el("li.staff-row", { "data-run": mark.key },
      el("button.row-button", {
        type: "button",
        click: () => pick(mark.key),
        pointerenter: () => pick(mark.key),
        pointerleave: () => pick(null),
        focus: () => pick(mark.key),
      }, ...mark.row));
    rows.append(node);
    return node;
  });
  const lay = (): void => {
    if (!host.isConnected) return;
    const heights = items.map((node) => node.offsetHeight);
    const rowsTall = heights.reduce((sum, h) => sum + h + 8, 0);
    const tall = Math.max(height, rowsTall + 24);
    const scale = staffScale(range.top, range.bottom, tall - 40);
    // Rows stand in the order the bucket may meet them, which a wide plus-or-minus can turn against their levels.
    let down = 0;
    const wants = marks.map((m) => (down = Math.max(down, 20 + scale.y(m.high))));
    const middles = spread(wants.map((want, i) => ({ wants: want, height: heights[i] ?? 60 })), 4, tall - 4, 8);
    drawing.replaceChildren(picture(model, marks, middles, scale, tall));
    host.style.height = `${tall}px`;
    items.forEach((node, i) => {
      node.style.top = `${(middles[i] as number) - (heights[i] ?? 0) / 2}px`;
    });
  };
  requestAnimationFrame(lay);
  let lastWidth = 0;
  new ResizeObserver(() => {
    if (rows.offsetWidth !== lastWidth) {
      lastWidth = rows.offsetWidth;
      lay();
    }
  }).observe(rows);
  return host;
}

/** Every level on the staff: each service with its 95 %, the surface and the floor. */
function spans(model: StaffModel): Span[] {
  return [
    ...model.marks.map((m) => ({ min: m.low - m.size - (m.u95 ?? 0), max: m.high + (m.u95 ?? 0) })),
    ...[model.surface, model.floor].filter((range) => range !== null),
  ];
}

function picture(model: StaffModel, marks: StaffMark[], middles: number[], scale: StaffScale, tall: number): SVGSVGElement {
  const y = (level: number): number => 20 + scale.y(level);
  const parts: SVGElement[] = [];
  // Hand zones lie behind everything; where they overlap they are one band.
  for (const [from, to] of joined(marks.flatMap((m): [number, number][] => m.zone === null ? []
    : [[y(m.high + (m.u95 ?? 0) + m.zone), y(m.low - m.size - (m.u95 ?? 0) - m.zone)]]))) {
    const [a, b] = [Math.max(10, from), Math.min(tall - 10, to)];
    parts.push(svg("rect", { class: "staff-zone", x: BODY.left - 5, y: a, width: EDGE - BODY.left + 5, height: Math.max(b - a, 2) }));
  }
  parts.push(...body(scale, tall));
  const taken = [model.surface?.max, model.floor?.min].filter((l) => l !== undefined).map(y);
  for (const level of graduations(scale)) {
    const at = y(level);
    if (at < 18 || at > tall - 12 || taken.some((t) => Math.abs(t - at) < 17)) continue;
    parts.push(svg("text", { class: "staff-number", x: BODY.left - 7, y: at + 5, "text-anchor": "end" }, level.toFixed(scale.step >= 0.1 ? 1 : 2)));
  }
  if (model.surface) {
    const at = y(model.surface.max);
    if (model.surface.max - model.surface.min > 0.0005) {
      parts.push(svg("rect", { class: "staff-surface-band", x: BODY.left, y: at, width: EDGE - BODY.left, height: Math.max(y(model.surface.min) - at, 1) }));
    }
    parts.push(svg("line", { class: "staff-surface", x1: 0, x2: EDGE, y1: at, y2: at }));
    for (let x = 1; x < BODY.left - 6; x += 8) parts.push(svg("line", { class: "staff-turf", x1: x + 6, x2: x, y1: at, y2: at + 7 }));
    parts.push(svg("text", { class: "staff-word", x: 0, y: at - 6 }, "surface"));
  }
  if (model.floor) {
    for (const level of new Set([model.floor.max, model.floor.min])) {
      parts.push(svg("line", { class: "staff-floor", x1: 0, x2: EDGE, y1: y(level), y2: y(level) }));
    }
    // Bucket teeth on the floor, so that the line cannot be taken for a service.
    const at = y(model.floor.min);
    for (let x = 2; x < BODY.left - 8; x += 11) parts.push(svg("path", { class: "staff-teeth", d: `M${x} ${at}l5 8l5 -8z` }));
    parts.push(svg("text", { class: "staff-word", x: 0, y: at - 6 }, "floor"));
  }
  const lanes = inLanes(marks.map((m) => [y(m.high + (m.u95 ?? 0)), Math.max(y(m.low - m.size - (m.u95 ?? 0)), y(m.high) + 8)]));
  marks.forEach((m, i) => {
    const ink = serviceInk(m.slug);
    const x = LANES[lanes[i] as 0 | 1 | 2];
    const top = y(m.high);
    const thick = Math.max(y(m.high - m.size) - top, 6);
    const bottom = y(m.low - m.size);
    if (bottom - top - thick > 3) {
      // It falls within the dig: a dotted case down to its lowest place.
      parts.push(svg("path", { class: "staff-range", stroke: ink, d: `M${x - 4} ${top}V${bottom}h8V${top}` }));
    }
    if (m.u95 === null) {
      // No uncertainty: the bar has no ends.
      parts.push(svg("path", { class: "staff-loose", stroke: ink, d: `M${x} ${top - 24}V${top + thick + 24}` }));
    }
    const wide = Math.min(Math.max(thick / 2, 3), LANE_HALF);
    parts.push(svg("rect", {
      class: m.seen ? "staff-pipe" : "staff-pipe hollow", x: x - wide, y: top, width: wide * 2,
      height: thick, rx: Math.min(wide, thick / 2), stroke: ink, fill: ink,
    }));
    if (m.u95 !== null) {
      const u1 = y(m.high + m.u95);
      const u2 = y(m.high - m.u95);
      parts.push(svg("rect", { class: "staff-u95", x: x - LANE_HALF, y: u1, width: LANE_HALF * 2, height: Math.max(u2 - u1, 2), fill: ink }));
      parts.push(svg("path", { class: "staff-whisker", d: `M${x - LANE_HALF} ${u1}h${LANE_HALF * 2}M${x - LANE_HALF} ${u2}h${LANE_HALF * 2}M${x} ${u1}V${u2}` }));
    }
    parts.push(svg("path", { class: "staff-leader", d: `M${x + wide + 1} ${top + thick / 2}L${EDGE} ${middles[i] as number}h12` }));
  });
  return svg("svg", { class: "staff-svg", width: EDGE + 12, height: tall, viewBox: `0 0 ${EDGE + 12} ${tall}`, role: "img", "aria-label": describe(model, marks) }, ...parts);
}

/** Ranges that overlap, joined. */
function joined(ranges: [number, number][]): [number, number][] {
  const made: [number, number][] = [];
  for (const [from, to] of ranges.sort((a, b) => a[0] - b[0])) {
    const last = made.at(-1);
    if (last && from <= last[1]) last[1] = Math.max(last[1], to);
    else made.push([from, to]);
  }
  return made;
}

/** A lane for each mark, so that marks at one level stand side by side. */
function inLanes(extents: [number, number][]): number[] {
  const ends: number[] = LANES.map(() => -1e9);
  return extents.map(([from, to]) => {
    let lane = ends.findIndex((end) => end < from - 2);
    if (lane < 0) lane = ends.indexOf(Math.min(...ends));
    ends[lane] = Math.max(ends[lane] as number, to);
    return lane;
  });
}

/** The staff's own face: blocks that turn about at every numbered graduation, black and red by turns. */
function body(scale: StaffScale, tall: number): SVGElement[] {
  const parts: SVGElement[] = [svg("rect", { class: "staff-body", x: BODY.left, y: 8, width: BODY.width, height: tall - 16 })];
  const y = (level: number): number => 20 + scale.y(level);
  const half = BODY.width / 2;
  const top = Math.ceil(scale.level(-12) / scale.step);
  const bottom = Math.floor(scale.level(tall - 28) / scale.step);
  let black = "";
  let red = "";
  for (let k = top; k >= bottom; k -= 1) {
    // One graduation downward from level k: an E of three bars on a stem, then its mirror image.
    const from = k * scale.step;
    const tenth = scale.step / 10;
    let path = "";
    const rect = (x: number, w: number, l1: number, l2: number): void => {
      const a = Math.max(y(l1), 8);
      const b = Math.min(y(l2), tall - 8);
      if (b > a) path += `M${x} ${a.toFixed(2)}h${w}V${b.toFixed(2)}h${-w}z`;
    };
    rect(BODY.left, half * 0.45, from, from - 5 * tenth);
    for (const bar of [0, 2, 4]) rect(BODY.left + half * 0.45, half * 1.15, from - bar * tenth, from - (bar + 1) * tenth);
    rect(BODY.left + BODY.width - half * 0.45, half * 0.45, from - 5 * tenth, from - 10 * tenth);
    for (const bar of [5, 7, 9]) rect(BODY.left + half * 0.4, half * 1.15, from - bar * tenth, from - (bar + 1) * tenth);
    if (((k % 2) + 2) % 2 === 0) black += path;
    else red += path;
  }
  parts.push(svg("path", { class: "staff-black", d: black }), svg("path", { class: "staff-red", d: red }));
  parts.push(svg("rect", { class: "staff-rim", x: BODY.left, y: 8, width: BODY.width, height: tall - 16 }));
  return parts;
}

function describe(model: StaffModel, marks: StaffMark[]): string {
  const parts = [];
  if (model.surface) parts.push(`surface ${model.surface.text}`);
  for (const m of marks) parts.push(`${m.tag} ${service(m.slug).name}, top at ${levelText(m.high)} metres`);
  if (model.floor) parts.push(`floor ${model.floor.text}`);
  return `Staff, from the top down: ${parts.join("; ")}`;
}
