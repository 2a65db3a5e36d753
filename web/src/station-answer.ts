// What a set-up comes to: the verdict large, what to do about it, and the figures one tap away. The server judges;
// this only shows.

import type { Context } from "./context";
import { el } from "./dom";
import { levelText, mmWords, plusMinus, signedMm, slugWords } from "./format";
import type { Trial, WeakGeometry } from "./plan-scene";
import { doubtSign } from "./symbols";
import type { CheckView, ReadingView, SightKind, StationView, Triple } from "./wire";

/** A loud mark with its word: never the colour alone. */
export const doubtWord = (text = "in doubt"): HTMLElement => el("span.doubt", {}, doubtSign(), el("span", {}, text));

const CHECK_WORDS = { passed: "check passed", failed: "check failed", "not-done": "not checked" } as const;

/** The word for a station's check. */
export const checkWord = (view: StationView): HTMLElement =>
  view.check === "passed" ? el("span.verdict", {}, CHECK_WORDS.passed) : doubtWord(CHECK_WORDS[view.check]);

/** The sights of a solved station, for the plan. A check stands where the site's map has it. */
export function trialOf(view: StationView, places: ReadonlyMap<string, Triple>): Trial {
  const seen = new Set(view.control.map((c) => c.point));
  return {
    name: view.station, at: view.at, ellipse: view.ellipse, weak: weakOf(view),
    rays: [
      ...view.control.map((c) => ({ point: c.point, at: c.at, sightedAs: "control" as SightKind, rejected: c.rejected || view.readings.some((r) => r.point === c.point && r.rejected) })),
      ...view.checks.flatMap((c) => {
        const at = places.get(c.point);
        if (!at || seen.has(c.point)) return [];
        seen.add(c.point);
        return [{ point: c.point, at, sightedAs: "check" as SightKind, rejected: c.outcome === "failed" }];
      }),
    ],
  };
}

/** What of a solved station's geometry is drawn as weak; the server judged it. */
const weakOf = ({ geometry: g }: StationView): WeakGeometry => ({
  // A circle far from the station, or where distances were measured, does no harm and would only be one more line.
  circle: g.circle && (g.circle.directions_only || g.circle.near) ? { centre: g.circle.centre, radiusM: g.circle.radius_m, near: g.circle.near, matters: g.circle.directions_only } : null,
  narrowDeg: g.narrow || g.one_side ? g.sector_deg : null,
  oneLine: g.on_one_line,
});

/** The danger circle and the lie of the control in words; nothing where there is nothing to say. */
function geometryWords({ geometry: g }: StationView): string[] {
  const said: string[] = [];
  const c = g.circle;
  if (c) {
    const where = `${Math.abs(c.off_m).toFixed(1)} m ${c.off_m < 0 ? "inside" : "outside"} the circle through the control, radius ${c.radius_m.toFixed(1)} m`;
    said.push(c.directions_only
      ? `${where}. On that circle directions alone fix nothing${c.near ? ", and here they fix it badly: measure a distance, or sight a point off the circle" : "; the station keeps off it"}.`
      : `${where}. Distances were measured, so the circle does no harm.`);
  }
  if (g.on_one_line) said.push("The control lies nearly on one line.");
  return said;
}

/** The places of the site's control. */
export const controlPlaces = (context: Context): Map<string, Triple> => new Map((context.site.map?.control ?? []).map((c) => [c.point, c.at]));

/** Draws the sights of a solved station on the plan. */
export function drawStation(context: Context, view: StationView): void {
  const { plan } = context;
  const trial = trialOf(view, controlPlaces(context));
  plan.scene.trial = trial;
  plan.draw();
  plan.fitPlaces([view.at, ...trial.rays.map((r) => r.at)], 84);
}

function checkLine(c: CheckView): HTMLElement {
  return el("li", { "data-severity": c.outcome === "passed" ? "note" : "refusal" },
    el("span.where", {}, `${c.point}: `, slugWords(c.says)),
    `Off by ${mmWords(c.plan_m)} in plan (\u00b1 ${mmWords(c.plan_u95_m)} at 95 %)`,
    c.level_m === null ? ", its level not compared" : ` and ${mmWords(c.level_m)} ${signedMm(c.level_m) === "0" ? "" : c.level_m < 0 ? "low " : "high "}in level (\u00b1 ${c.level_u95_m === null ? "not known" : mmWords(c.level_u95_m)})`,
    `; ${mmWords(c.tolerance_m)} is allowed.`);
}

/** A solved station, read from the top down; on a phone the plan stands in the slot, after the verdict. */
export function stationAnswer(view: StationView, slot?: HTMLElement): HTMLElement {
  return el("div.station-answer", {},
    el("p.says", { "data-role": "station-says" }, view.says),
    el("p.station-marks", {}, view.fits ? el("span.verdict", {}, "readings agree") : doubtWord(view.global === null ? "nothing checks the readings" : "readings do not agree"), " ", checkWord(view)),
    slot,
    view.geometry.circle?.near && view.geometry.circle.directions_only && el("p.caution", { "data-role": "danger-circle" }, doubtWord("danger circle"), ` The station lies ${geometryWords(view)[0] ?? ""}`),
    view.unchecked_reason !== null && el("p.caution", {}, "Used without a passed check: ", view.unchecked_reason),
    view.suspect.length > 0 && el("p.caution", {}, doubtWord(), ` ${view.suspect.join(", ")}: shot since the last check that passed.`),
    view.causes.length > 0 && el("section", {}, el("h3", {}, "What may be the cause, likeliest first"), el("ol.causes", {}, view.causes.map((text) => el("li", {}, text)))),
    view.checks.length > 0 && el("section", {}, el("h3", {}, "The check"), el("ul.plain.findings", {}, view.checks.map(checkLine))),
    view.findings.length > 0 && el("section", {}, el("h3", {}, "Look at these"), el("ul.plain.findings", {}, view.findings.map((text) => el("li", { "data-severity": "doubt" }, text)))),
    el("dl.facts", {},
      el("dt", {}, "Stands at"), el("dd", {}, `${levelText(view.at[0])} E, ${levelText(view.at[1])} N ${plusMinus(view.u95_h_m)} m`),
      el("dt", {}, "Level"), el("dd", {}, view.level_m === null ? view.why["level_m"] ?? "not known" : `${levelText(view.level_m)} m ${plusMinus(view.u95_v_m)} m`)),
    figures(view));
}

function figures(view: StationView): HTMLElement {
  const g = view.global;
  return el("details.more", { "data-role": "figures" }, el("summary", {}, "The figures"),
    el("dl.facts", {},
      el("dt", {}, "95 % ellipse"), el("dd", {}, `${mmWords(view.ellipse.semi_major_m)} by ${mmWords(view.ellipse.semi_minor_m)}${view.ellipse.azimuth_deg === null ? ", a circle" : `, longest toward ${view.ellipse.azimuth_deg.toFixed(1)}\u00b0`}`),
      el("dt", {}, "Zero of the circle"), el("dd", {}, view.orientation_deg === null ? view.why["orientation_deg"] ?? "not known" : `${view.orientation_deg.toFixed(5)}\u00b0 from grid north`),
      el("dt", {}, "Control within"), el("dd", {}, `${view.geometry.sector_deg.toFixed(1)}\u00b0 as seen from here${view.geometry.narrow ? ": narrow" : view.geometry.one_side ? ": on one side" : ""}`),
      geometryWords(view).map((text, i) => [el("dt", {}, i === 0 ? "Geometry" : ""), el("dd", {}, text)]),
      el("dt", {}, "Air"), el("dd", {}, view.air_says),
      el("dt", {}, "Test of the whole"), el("dd", {}, g === null ? view.why["global"] ?? "not possible"
        : `${g.statistic.toFixed(2)}, expected ${g.interval[0].toFixed(2)} to ${g.interval[1].toFixed(2)} with ${g.degrees_of_freedom} left over: ${g.accepted ? "holds" : "does not hold"}`),
      el("dt", {}, "Scale left free"), el("dd", {}, view.free_scale_ppm === null ? "not tried" : `${view.free_scale_ppm[0].toFixed(1)} ppm \u00b1 ${view.free_scale_ppm[1].toFixed(1)} (one sigma); not applied`),
      el("dt", {}, "Grid over ground"), el("dd", {}, view.grid_scale.toFixed(8))),
    el("div.scroll-x", { tabindex: 0, role: "region", "aria-label": "Readings with their residuals" }, el("table", {},
      el("thead", {}, el("tr", {}, el("th", {}, "Reading"), el("th.n", {}, "Residual"), el("th.n", {}, "w"), el("th.n", {}, "Redundancy"), el("th.n", {}, "Would be found from"), el("th.n", {}, "Moves station by"))),
      el("tbody", {}, view.readings.map(readingRow)))),
    view.control.some((c) => c.shift_m !== null) && el("div.scroll-x", { tabindex: 0, role: "region", "aria-label": "How control fits" }, el("table", {},
      el("thead", {}, el("tr", {}, el("th", {}, "Control"), el("th.n", {}, "East mm"), el("th.n", {}, "North mm"), el("th.n", {}, "Level mm"))),
      el("tbody", {}, view.control.map((c) => el("tr", {},
        el("td", {}, c.point, c.rejected && [" ", doubtWord("does not fit")]),
        [0, 1, 2].map((k) => el("td.n", {}, c.shift_m === null ? "not testable" : signedMm(c.shift_m[k] ?? 0)))))),
      el("caption", {}, "What to add to each point's coordinates to make it fit best."))),
    el("p.quiet", {}, "w is the residual over its own standard deviation; beyond 3.29 a reading is called wrong. Redundancy 0: nothing checks that reading. The last two columns: the least error that would be found four times in five, and what one that size would do."));
}

function readingRow(r: ReadingView): HTMLElement {
  const unit = r.unit === "sec" ? "\u2033" : `\u00a0${r.unit}`;
  return el("tr", {},
    el("td", {}, `${r.point}, ${r.what}`, r.rejected && [" ", doubtWord("does not fit")]),
    el("td.n", {}, `${r.residual.toFixed(1)}${unit}`),
    el("td.n", {}, r.w === null ? el("span.row-small", {}, "not checked") : r.w.toFixed(2)),
    el("td.n", {}, r.redundancy.toFixed(2)),
    el("td.n", {}, r.detectable === null ? el("span.row-small", {}, "never") : `${r.detectable.toFixed(1)}${unit}`),
    el("td.n", {}, r.plan_effect_m === null ? el("span.row-small", {}, "not known") : mmWords(r.plan_effect_m)));
}
