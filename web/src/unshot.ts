// What was not shot between two points: how much wider the run may be there, why, and the mend.

import { el } from "./dom";
import { plusMinus } from "./format";
import type { CoverLeg } from "./wire";

/** How much wider a leg is than its points, because that was not shot; nothing where nothing was left open. */
export function unshotNote(leg: CoverLeg): HTMLElement | null {
  // A server of an earlier version sends none.
  if (!leg.unshot_says) return null;
  const wider = leg.unshot_m === null ? "no \u00b1 can be given" : `${plusMinus(leg.unshot_m)} m more between them`;
  return el("span.row-small", { "data-role": "unshot" }, `${wider} because ${leg.unshot_says}`);
}

/** What is taken between points, as stated or said by the server. */
export const bowWords = (bow: number | null | undefined, why: string | undefined): string =>
  typeof bow === "number" ? `may bow ${plusMinus(bow)} m off the line, as stated` : why ?? "taken as straight";
