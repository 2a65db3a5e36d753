// Looking along: chainage against level, with the vertical exaggeration stated.

import { el, svg } from "./dom";
import { levelText } from "./format";
import { roundStep } from "./project";
import { serviceInk } from "./services";

export interface SectionModel {
  title: string;
  /** What the chainage is measured along. */
  along: string;
  from: number;
  to: number;
  /** The surface above: chainage and level; a gap where it is not known. */
  surface: [number, number][][];
  surfaceBand: { min: number; max: number } | null;
  floor: { min: number; max: number; from: number; to: number } | null;
  lines: SectionLine[];
}

export interface SectionLine {
  key: string;
  tag: string;
  slug: string;
  size: number;
  /** Chainage and level of the outside top. */
  line: [number, number][];
  /** 95 % at each vertex; null where not known. */
  u95: (number | null)[];
  /** Chainage, level of the top and 95 % in level where these go otherwise than straight from point to point. */
  band?: [number, number, number | null][];
  labels: string[];
  seen: boolean;
}

const PAD = { left: 62, right: 18, top: 30, bottom: 34 };

/** A section that draws itself again when its width changes. Touching it gives the chainage. */
export function drawSection(model: SectionModel, pick: (chainage: number, key: string | null) => void): HTMLElement {
  const drawing = el("div.section-drawing");
  const stated = el("p.section-scale");
  const host = el("div.section-body", {}, el("h3.section-title", {}, model.title), stated, drawing);
  const draw = (): void => {
    const width = drawing.clientWidth;
    const height = drawing.clientHeight;
    if (width < 60 || height < 60) return;
    const made = picture(model, width, height, pick);
    drawing.replaceChildren(made.svg);
    stated.textContent = `${model.along} · ${made.exaggeration === 1 ? "heights and lengths to the same scale" : `heights drawn ${made.exaggeration} times larger than lengths`}`;
  };
  new ResizeObserver(draw).observe(drawing);
  return host;
}

function picture(model: SectionModel, width: number, height: number, pick: (chainage: number, key: string | null) => void) {
  const levels: number[] = [];
  for (const line of model.lines) {
    line.line.forEach(([, level], i) => levels.push(level + (line.u95[i] ?? 0), level - line.size - (line.u95[i] ?? 0)));
    for (const [, level, u] of line.band ?? []) levels.push(level + (u ?? 0), level - (u ?? 0));
  }
  for (const piece of model.surface) for (const [, level] of piece) levels.push(level);
  if (model.surfaceBand) levels.push(model.surfaceBand.min, model.surfaceBand.max);
  if (model.floor) levels.push(model.floor.min, model.floor.max);
  let top = Math.max(...levels, -1e9);
  let bottom = Math.min(...levels, 1e9);
  if (top < bottom) [top, bottom] = [1, 0];
  const room = Math.max((top - bottom) * 0.1, 0.05);
  top += room;
  bottom -= room;
  const across = Math.max(model.to - model.from, 0.5);
  const sx = (width - PAD.left - PAD.right) / across;
  const free = (height - PAD.top - PAD.bottom) / (top - bottom);
  // A round exaggeration, never less than one and never taller than the room there is.
  const ratio = free / sx;
  const exaggeration = ratio >= 1 ? roundDown(ratio) : 1;
  const sy = ratio >= 1 ? sx * exaggeration : free;
  const kx = ratio >= 1 ? sx : free;
  const spare = height - PAD.top - PAD.bottom - (top - bottom) * sy;
  const x = (chainage: number): number => PAD.left + (chainage - model.from) * kx;
  const y = (level: number): number => PAD.top + spare / 2 + (top - level) * sy;
  const parts: SVGElement[] = [];

  const stepY = roundStep(30 / sy);
  for (let k = Math.ceil((bottom - spare / 2 / sy) / stepY); k * stepY <= top + spare / 2 / sy; k += 1) {
    const at = y(k * stepY);
    parts.push(svg("line", { class: "sec-rule", x1: PAD.left, x2: width - PAD.right, y1: at, y2: at }));
    parts.push(svg("text", { class: "sec-number", x: PAD.left - 8, y: at + 4, "text-anchor": "end" }, (k * stepY).toFixed(stepY >= 0.1 ? 1 : 2)));
  }
  const stepX = roundStep(84 / kx);
  for (let k = Math.ceil(model.from / stepX); k * stepX <= model.to + 1e-9; k += 1) {
    const at = x(k * stepX);
    parts.push(svg("line", { class: "sec-tick", x1: at, x2: at, y1: height - PAD.bottom, y2: height - PAD.bottom + 6 }));
    parts.push(svg("text", { class: "sec-number", x: at, y: height - PAD.bottom + 20, "text-anchor": "middle" }, (k * stepX).toFixed(stepX >= 1 ? 0 : 2)));
  }
  parts.push(svg("text", { class: "sec-unit", x: 6, y: 16 }, "level m"));
  if (model.surfaceBand) {
    parts.push(svg("rect", { class: "sec-ground", x: PAD.left, y: y(model.surfaceBand.max), width: width - PAD.left - PAD.right, height: Math.max(y(model.surfaceBand.min) - y(model.surfaceBand.max), 2) }));
  }
  for (const piece of model.surface) {
    const d = piece.map(([c, l], i) => `${i === 0 ? "M" : "L"}${x(c).toFixed(1)} ${y(l).toFixed(1)}`).join("");
    parts.push(svg("path", { class: "sec-surface", d }));
    for (let i = 1; i < piece.length; i += 1) {
      const [a, b] = [piece[i - 1] as [number, number], piece[i] as [number, number]];
      const count = Math.floor(((b[0] - a[0]) * kx) / 14);
      let turf = "";
      for (let k = 0; k <= count; k += 1) {
        const t = count === 0 ? 0 : k / count;
        turf += `M${(x(a[0] + (b[0] - a[0]) * t)).toFixed(1)} ${(y(a[1] + (b[1] - a[1]) * t)).toFixed(1)}l-6 7`;
      }
      parts.push(svg("path", { class: "sec-turf", d: turf }));
    }
  }
  if (model.floor) {
    const x1 = x(model.floor.from);
    const x2 = x(model.floor.to);
    const wall = model.surfaceBand ? y(model.surfaceBand.max) : PAD.top;
    parts.push(svg("path", { class: "sec-hole", d: `M${x1} ${wall}V${y(model.floor.min)}H${x2}V${wall}` }));
  }
  const tags: [number, number, number][] = [];
  for (const line of model.lines) {
    const ink = serviceInk(line.slug);
    const band: string[] = [];
    const wide = line.band ?? line.line.map(([c, l], i): [number, number, number | null] => [c, l, line.u95[i] ?? null]);
    for (let i = 1; i < wide.length; i += 1) {
      const a = wide[i - 1] as [number, number, number | null];
      const b = wide[i] as [number, number, number | null];
      const ua = a[2];
      const ub = b[2];
      if (ua !== null && ub !== null) {
        band.push(`M${x(a[0])} ${y(a[1] + ua)}L${x(b[0])} ${y(b[1] + ub)}L${x(b[0])} ${y(b[1] - ub)}L${x(a[0])} ${y(a[1] - ua)}z`);
      }
    }
    parts.push(svg("path", { class: "sec-u95", d: band.join(""), fill: ink }));
    const tops = line.line.map(([c, l]) => `${x(c).toFixed(1)} ${y(l).toFixed(1)}`);
    const bottoms = line.line.map(([c, l]) => `${x(c).toFixed(1)} ${Math.max(y(l - line.size), y(l) + 3).toFixed(1)}`).reverse();
    parts.push(svg("path", { class: line.seen ? "sec-pipe" : "sec-pipe hollow", "data-key": line.key, d: `M${tops.join("L")}L${bottoms.join("L")}z`, fill: ink, stroke: ink }));
    line.line.forEach(([c, l], i) => {
      const u = line.u95[i];
      if (u !== null && u !== undefined) {
        parts.push(svg("path", { class: "sec-whisker", stroke: ink, d: `M${x(c) - 4} ${y(l + u)}h8M${x(c)} ${y(l + u)}V${y(l - u)}M${x(c) - 4} ${y(l - u)}h8` }));
      }
    });
    let lastX = -1e9;
    line.line.forEach(([c, l], i) => {
      const text = line.labels[i];
      if (!text || x(c) - lastX < 12 + text.length * 7.5) return;
      lastX = x(c);
      const half = text.length * 3.8;
      const anchor = x(c) + half > width ? "end" : x(c) - half < 0 ? "start" : "middle";
      parts.push(svg("text", { class: "sec-point", x: anchor === "end" ? width - 4 : x(c), y: y(l - line.size) + 18, "text-anchor": anchor }, text));
    });
    const mid = line.line[Math.floor(line.line.length / 2)];
    if (mid && line.tag) {
      const w = 12 + line.tag.length * 8;
      const tx = Math.min(Math.max(x(mid[0]), PAD.left + w / 2), width - PAD.right - w / 2);
      let ty = Math.max(y(mid[1]) - 28, 2);
      while (ty > 24 && tags.some(([px, py, pw]) => Math.abs(px - tx) < (pw + w) / 2 + 2 && Math.abs(py - ty) < 22)) ty -= 22;
      tags.push([tx, ty, w]);
      parts.push(svg("rect", { class: "sec-tag", x: tx - w / 2, y: ty, width: w, height: 20, rx: 2 }));
      parts.push(svg("text", { class: "sec-tag-text", x: tx, y: ty + 15, "text-anchor": "middle" }, line.tag));
    }
  }
  const names = model.lines.map((l) => `${l.tag} top from ${levelText(Math.min(...l.line.map((p) => p[1])))} to ${levelText(Math.max(...l.line.map((p) => p[1])))} metres`);
  const root = svg("svg", { class: "section-svg", width, height, viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": `${model.title}. ${names.join("; ")}` }, ...parts);
  root.addEventListener("click", (event) => {
    const box = root.getBoundingClientRect();
    const chainage = Math.min(model.to, Math.max(model.from, model.from + (event.clientX - box.left - PAD.left) / kx));
    const level = top - (event.clientY - box.top - PAD.top - spare / 2) / sy;
    let key: string | null = null;
    let best = 40 / sy;
    for (const line of model.lines) {
      for (const [c, l] of line.line) {
        const off = Math.hypot((c - chainage) * (kx / sy), l - level);
        if (off < best) {
          best = off;
          key = line.key;
        }
      }
    }
    pick(chainage, key);
  });
  return { svg: root, exaggeration };
}

function roundDown(value: number): number {
  const power = 10 ** Math.floor(Math.log10(value));
  for (const k of [8, 6, 5, 4, 3, 2, 1.5, 1]) if (k * power <= value) return k * power;
  return 1;
}
