// Record: what can be put in the book, as a list of acts with how much of each there is.

import type { Context } from "./context";
import { append, el } from "./dom";
import { recordTaped } from "./record-taped";
import { importFile } from "./record-import";
import { layRun } from "./record-run";
import { setUp } from "./record-station";
import { setAnew } from "./station-anew";
import { stationsRoom } from "./stations-room";
import { tieGrid } from "./grid-tie";
import { adoptRules, recordSearched, recordSurface } from "./record-ground";
import { standStaff } from "./probe";
import { stationAt } from "./hit-test";

/** Opens the door, or one of the rooms behind it. */
export function record(context: Context): void {
  const room = context.rest[0];
  if (room === undefined) {
    list(context);
    return;
  }
  append(context.page, [el("a.back", { href: context.href("record") }, "Record")]);
  if (room === "import") importFile(context, context.rest[1] ?? "points");
  else if (room === "run") layRun(context);
  else if (room === "tape") recordTaped(context);
  else if (room === "surface") recordSurface(context);
  else if (room === "searched") recordSearched(context);
  else if (room === "station") setUp(context);
  else if (room === "stations" && context.rest[2] === "anew") setAnew(context, context.rest[1] ?? "");
  else if (room === "stations") stationsRoom(context, context.rest[1]);
  else if (room === "grid") tieGrid(context);
  else if (room === "rules") adoptRules(context);
  else append(context.page, [el("h1", {}, "No such room")]);
}

function list(context: Context): void {
  const { site, plan, page } = context;
  const body = el("div");
  append(page, [el("h1", {}, "Record"), body]);
  const paint = (): void => {
    const v = site.view;
    const c = v?.counts;
    body.replaceChildren(
      ...(v?.read_only ? [el("p.caution", {}, `Read only: ${v.read_only}`)] : []),
      el("h2.small-title", {}, "The instrument"),
      el("ul.plain.task-list", {},
        taskLine(context, "record/station", "Set up", "Find where the instrument stands, and check it, before anything is measured."),
        taskLine(context, "record/stations", "Stations and level books", "Where it stood, how sure, what is in doubt.", c?.stations)),
      el("h2.small-title", {}, "From a file"),
      el("ul.plain.task-list", {},
        taskLine(context, "record/import/points", "Measured points", "Shown on the plan first. Rows that name a run lay it.", c?.points),
        taskLine(context, "record/import/observations", "Observations", "Set-ups and shots as they were read: directions, zenith angles, distances."),
        taskLine(context, "record/import/levels", "A level book", "Back, intermediate and fore sights."),
        taskLine(context, "record/import/ties", "Points by tape", "Taped distances from two or three known points."),
        taskLine(context, "record/import/offsets", "Offsets from a line", "Taped along and square off a line between two known points."),
        taskLine(context, "record/import/satellite", "Satellite positions", "With the receiver's stated quality, and what it means."),
        taskLine(context, "record/import/detected", "Detected, not seen", "A detector's place and depth, by which method."),
        taskLine(context, "record/import/control", "Control", "The marks everything was measured from.", c?.control),
        taskLine(context, "record/import/surface", "Surface", "A triangulated ground or floor.", v?.surfaces.length),
        taskLine(context, "record/import/searched", "Searched areas", "Where somebody looked, for what, how deep.", c?.searched),
        taskLine(context, "record/import/expected", "Expected runs", "The list that the cover check looks for.", c?.expected)),
      el("h2.small-title", {}, "By hand"),
      el("ul.plain.task-list", {},
        taskLine(context, "record/tape", "A point by tape", "Distances from known points, or along a line and off it."),
        taskLine(context, "record/run", "A run through points", "Touch recorded points in order.", c?.runs),
        taskLine(context, "record/surface", "A surface", "One level, or a plane through points."),
        taskLine(context, "record/searched", "A searched area", "Draw the ring, say what for and how deep."),
        v?.grid.epsg === null && taskLine(context, "record/grid", "Tie the grid", "By points known on this grid and on a national one."),
        taskLine(context, "record/rules", "Rules", v?.rules ? v.rules.title : "None adopted: nothing can be proved.")));
  };
  paint();
  context.onLeave(site.onChange(paint));
  plan.onTap = (place, reach) => {
    const hit = plan.scene.index?.hits(place, reach)[0];
    const station = stationAt(site.stations, place, reach);
    if (station) context.go(`record/stations/${encodeURIComponent(station.station)}`);
    else if (hit) context.go(`run/${encodeURIComponent(hit.run.run)}`);
    else void standStaff(context, place);
  };
}

function taskLine(context: Context, path: string, name: string, says: string, many?: number): HTMLElement {
  return el("li", {}, el("a.task", { href: context.href(path) }, el("span.task-name", {}, name), el("span.task-says", {}, says), many !== undefined && el("span.task-count", {}, many)));
}
