// The sums of the staff: where a level falls on it, which graduations it carries, how labels make room.

import { roundStep } from "./project";

export interface StaffScale {
  top: number;
  bottom: number;
  height: number;
  /** Metres between numbered graduations. */
  step: number;
  /** Pixels from the top for a level. */
  y(level: number): number;
  /** The level at a pixel. */
  level(y: number): number;
}

/** A staff `height` pixels tall from level `top` down to `bottom`, numbered at least every `room` pixels. */
export function staffScale(top: number, bottom: number, height: number, room = 34): StaffScale {
  const span = Math.max(top - bottom, 0.1);
  const perMetre = height / span;
  const step = roundStep(Math.max(room / perMetre, 0.01));
  return {
    top, bottom: top - span, height, step,
    y: (level) => (top - level) * perMetre,
    level: (y) => top - y / perMetre,
  };
}

/** A span of levels in metres, lowest and highest. */
export interface Span {
  min: number;
  max: number;
}

/** The levels a staff must reach to hold every span, with a little room; null when nothing on it has a level. */
export function staffRange(spans: readonly Span[]): { top: number; bottom: number } | null {
  const known = spans.filter((s) => Number.isFinite(s.min) && Number.isFinite(s.max));
  if (known.length === 0) return null;
  const top = Math.max(...known.map((s) => s.max));
  const bottom = Math.min(...known.map((s) => s.min));
  const room = Math.max((top - bottom) * 0.07, 0.05);
  return { top: top + room, bottom: bottom - room };
}

/** The numbered levels on a staff, from the top down. Whole steps, so that numbers are round. */
export function graduations(scale: StaffScale): number[] {
  const first = Math.floor(scale.top / scale.step + 1e-9);
  const last = Math.ceil(scale.bottom / scale.step - 1e-9);
  const found: number[] = [];
  for (let k = first; k >= last; k -= 1) found.push(Number((k * scale.step).toFixed(6)));
  return found;
}

/** A label that wants to sit at `wants` and takes `height` pixels. */
export interface Label {
  wants: number;
  height: number;
}

/**
 * Moves labels apart, keeping their order, each as near as may be to where it wants its middle.
 *
 * Neighbours that collide are joined in a block that sits at the mean of what they want (pool adjacent violators).
 * When all of them do not fit between `from` and `to`, they run on past `to`: nothing is dropped.
 */
export function spread(labels: readonly Label[], from: number, to: number, gap = 4): number[] {
  interface Block { start: number; size: number; members: number[]; sum: number }
  const order = labels.map((_, i) => i).sort((a, b) => (labels[a] as Label).wants - (labels[b] as Label).wants || a - b);
  const blocks: Block[] = [];
  const total = labels.reduce((sum, l) => sum + l.height + gap, -gap);
  const end = Math.max(to, from + total);
  const hold = (block: Block): void => {
    block.start = Math.min(Math.max(block.sum / block.members.length, from), end - block.size);
  };
  for (const i of order) {
    const label = labels[i] as Label;
    let block: Block = { start: 0, size: label.height, members: [i], sum: label.wants - label.height / 2 };
    hold(block);
    let before = blocks.at(-1);
    while (before && before.start + before.size + gap > block.start) {
      const shift = before.size + gap;
      block = {
        start: 0,
        size: shift + block.size,
        members: [...before.members, ...block.members],
        sum: before.sum + block.sum - shift * block.members.length,
      };
      hold(block);
      blocks.pop();
      before = blocks.at(-1);
    }
    blocks.push(block);
  }
  const middles = Array.from<number>({ length: labels.length });
  for (const block of blocks) {
    let y = block.start;
    for (const i of block.members) {
      const { height } = labels[i] as Label;
      middles[i] = y + height / 2;
      y += height + gap;
    }
  }
  return middles;
}
