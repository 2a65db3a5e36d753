// Standing the staff at a place: the server is asked what is under a square metre there. Nothing is recorded.

import { api, Refused, Stopped } from "./api";
import type { Context } from "./context";
import { VERDICT_WORDS, inOrder } from "./dig-answer";
import { button, el } from "./dom";
import { coverText, depthText, levelText, plusMinus } from "./format";
import { areasAt } from "./hit-test";
import { floorBelow, squareRound, type Place } from "./project";
import { drawStaff, staffHeight, type StaffMark } from "./staff";
import { namedSurface, surfaceOpen, surfaceQuestion } from "./surface-choice";
import { service } from "./services";
import type { DigAnswer, DigQuestion } from "./wire";

const DEPTH_M = 3;
/** How far the runs may lie whose levels say how deep to ask: as far as one that is not placed is looked for. */
const NEAR_M = 30;
let last: AbortController | null = null;

/** Asks what is under a place and shows the staff there. Touching a mark opens the run's card. */
export async function standStaff(context: Context, place: Place): Promise<void> {
  last?.abort();
  const stop = new AbortController();
  last = stop;
  context.plan.mark(place);
  context.staff(el("div.staff-head", {}, el("h2", {}, "Standing the staff")));
  const area = squareRound(place, 1);
  const surface = namedSurface(context);
  const { site } = context;
  try {
    let answer: DigAnswer;
    let note = "";
    const deep: DigQuestion = { area, depth_m: DEPTH_M, ...(surface ? { surface } : {}) };
    try {
      answer = await api.dig(site.id, deep, stop.signal);
    } catch (cause) {
      if (!(cause instanceof Refused)) throw cause;
      // No surface answers here: ask down to below what is recorded near by, so that levels at least are shown.
      const floor = floorBelow(context.plan.scene.index?.hits(place, NEAR_M).map((h) => h.run) ?? []);
      if (floor === null) {
        context.staff(nothingToAsk(context, place, cause.message));
        return;
      }
      answer = await api.dig(site.id, { area, floor_level_m: floor }, stop.signal);
      note = `Levels only, down to ${levelText(floor)} m, which is under every run within ${NEAR_M} m: ${cause.message}.`;
    }
    context.staff(show(context, place, answer, note));
    context.say(answer.says);
  } catch (cause) {
    if (cause instanceof Stopped) return;
    context.staff(el("div.staff-head", {}, el("h2", {}, "The staff cannot be stood here"), el("p.refused", {}, cause instanceof Error ? cause.message : String(cause))));
  }
}

/** Neither a surface to measure down from nor a run to tell a level by: said in words, with what could be asked. */
function nothingToAsk(context: Context, place: Place, why: string): HTMLElement {
  const areas = areasAt(context.site.map?.searched ?? [], place);
  const open = surfaceOpen(context);
  return el("div.staff-head", { "data-role": "no-level" },
    el("h2", {}, "No level to stand the staff at"), el("p", {}, `${levelText(place.easting)} E, ${levelText(place.northing)} N`),
    el("p", {}, el("strong", {}, `No run is recorded within ${NEAR_M} m of here, and no surface ${open ? "is named" : "answers"} to tell a depth. `), "That says nothing about what lies here."),
    areas.length === 0 ? el("p.caution", {}, "Nobody searched here, or nobody wrote it down.") : areas.map((a) => el("p", {}, a.says)),
    open
      ? surfaceQuestion(context, () => void standStaff(context, place))
      : el("p.quiet", {}, `${why}.`),
    el("p", {}, "A ", el("a", { href: context.href("dig") }, "planned dig"), " can be asked down to a floor level that you know."));
}

function show(context: Context, place: Place, answer: DigAnswer, note: string): HTMLElement {
  const { met } = inOrder(answer);
  const marks: StaffMark[] = met.map(({ run, tag }) => ({
    key: run.run, tag, slug: run.service, low: run.top_level_m.min, high: run.top_level_m.max, u95: run.u95_v_m,
    size: run.outside_m, zone: null, seen: run.known === "seen" || run.known === "seen-checked",
    row: [
      el("span.row-head", {}, el("span.tag", {}, tag), el("span.row-name", {}, run.run)),
      el("span.row-figures", {}, el("span.deep", {}, run.cover_m.min === null ? "" : `${depthText(run.cover_m.min)[0]} m ${depthText(run.cover_m.min)[1]}`)),
      el("span.row-small", {}, `top ${levelText(run.top_level_m.max)} m ${plusMinus(run.u95_v_m)}, ${service(run.service).name}`,
        run.horizontal_gap_m > 0 ? `, ${coverText(run.horizontal_gap_m)} m aside` : "",
        run.verdict ? `, ${VERDICT_WORDS[run.verdict]}` : ""),
    ],
  }));
  const pick = (key: string | null): void => context.plan.light(key === null ? [] : [key]);
  return el("div", {},
    el("div.staff-head", {},
      el("h2", {}, "Staff stood at"), el("p", {}, `${levelText(place.easting)} E, ${levelText(place.northing)} N`),
      el("p", {}, el("strong", {}, answer.says)),
      note && el("p.caution", {}, note),
      answer.dig.surface !== null && el("p", {}, `Depths below ${answer.dig.surface}.`)),
    drawStaff({
      surface: answer.dig.surface_levels_m && { ...answer.dig.surface_levels_m, text: answer.dig.surface ?? "" },
      floor: null, marks,
    }, staffHeight(0.45), pick),
    el("div.acts", {}, button("Lift the staff", () => {
      context.staff(null);
      context.plan.mark(null);
      context.plan.light([]);
    })),
    met.length > 0 && el("ul.plain.cards", {}, met.map(({ run, tag }) => el("li", {},
      el("a.back", { href: context.href(`run/${encodeURIComponent(run.run)}`) }, `Card of ${tag}: ${run.run}`)))));
}
