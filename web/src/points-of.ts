// Recorded points, read out of the book: what a run goes through and what is taped from.

import { api } from "./api";
import type { Triple } from "./wire";

const PAGES = 25;

interface PointRow { point: string; easting_m: string; northing_m: string; level_m: string }

/** Reads recorded points out of the book, newest first. Gives true when older entries were left unread. */
export async function pointsOf(site: string): Promise<{ points: Map<string, Triple>; more: boolean }> {
  const points = new Map<string, Triple>();
  let before: number | undefined;
  for (let page = 0; page < PAGES; page += 1) {
    const journal = await api.journal(site, before, 100);
    for (const entry of journal.entries) {
      if (entry.kind !== "PointsRecorded" || entry.withdrawn !== null) continue;
      const rows = (entry.body as { points?: PointRow[] } | null)?.points ?? [];
      for (const row of rows) {
        if (!points.has(row.point)) points.set(row.point, [Number(row.easting_m), Number(row.northing_m), Number(row.level_m)]);
      }
    }
    const last = journal.entries.at(-1)?.n;
    if (last === undefined || last <= 1) return { points, more: false };
    before = last;
    if (points.size > 20000) return { points, more: true };
  }
  return { points, more: true };
}
