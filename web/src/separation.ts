// Separation: every place where two runs meet, worst first, with its figures and the rule that spoke. Opening one
// marks the place on the plan.

import type { Context } from "./context";
import { button, el, put } from "./dom";
import { count, coverText, levelText, slugWords } from "./format";
import type { SeparationAnswer, SeparationPlace } from "./wire";

const FIRST = 40;

/** The list of places, or what there is to say when there is none. */
export function separation(context: Context, answer: SeparationAnswer): HTMLElement {
  const list = el("div");
  let shown = 0;
  const more = button("", () => add(), "plain");
  const add = (): void => {
    const next = answer.places.slice(shown, shown + FIRST);
    shown += next.length;
    for (const place of next) list.append(block(context, place));
    more.hidden = shown >= answer.places.length;
    more.textContent = `Show more (${answer.places.length - shown} left)`;
  };
  add();
  return el("section", { "data-role": "separation" }, el("h2", {}, "Separation"),
    el("p", { "data-role": "separation-says" }, answer.says),
    list, more,
    answer.not_listed > 0 && el("p.caution", {}, `${count(answer.not_listed, "more place")} counted and not listed.`));
}

function block(context: Context, place: SeparationPlace): HTMLElement {
  const inside = el("div.inside");
  const name = place.runs.join(place.kind === "crossing" ? " across " : " beside ");
  const node = el("details.run-block", { "data-separation": place.runs.join(" ") },
    el("summary", {}, el("span.tag", {}, place.letters.join(" ")), el("span.name", {}, name),
      el("span.row-marks", {}, el("span.verdict", { "data-verdict": place.verdict }, slugWords(place.verdict))),
      el("span.row-small", {}, place.says)),
    inside);
  node.addEventListener("toggle", () => {
    if (!node.open) return;
    show(context, place);
    if (inside.childElementCount > 0) return;
    put(inside, figures(place), place.unless.map((text) => el("p.caution", {}, `Unless ${text}: that needs a person's word.`)),
      place.runs.map((run) => el("a.back", { href: context.href(`run/${encodeURIComponent(run)}`) }, `Card of ${run}`)));
  });
  return node;
}

/** Lights both runs and stands the mark where it was decided. */
function show(context: Context, place: SeparationPlace): void {
  const [easting, northing] = place.place;
  context.plan.light(place.runs);
  context.plan.centreOn({ easting, northing });
  context.plan.mark({ easting, northing });
  context.say(`${place.says}. Marked on the plan.`);
}

function figures(place: SeparationPlace): HTMLElement {
  const rows: [string, string][] = [];
  const gap = (name: string, field: "gap_m" | "horizontal_gap_m" | "vertical_gap_m", worst: "worst_gap_m" | "worst_horizontal_gap_m" | "worst_vertical_gap_m"): void => {
    const recorded = place[field];
    const atWorst = place[worst];
    rows.push([name, recorded === null ? place.why[field] ?? "not known"
      : `${coverText(recorded)} m, ${atWorst === null ? `at 95 % not known: ${place.why[worst] ?? ""}` : `at 95 % ${coverText(atWorst)} m`}${chainages(place, field)}`]);
  };
  gap("Shortest way", "gap_m", "worst_gap_m");
  gap("In plan", "horizontal_gap_m", "worst_horizontal_gap_m");
  if (place.kind === "crossing") {
    gap("In height", "vertical_gap_m", "worst_vertical_gap_m");
    rows.push(["Above", place.above ?? place.why["above"] ?? "not known"]);
  }
  const { rule } = place;
  rows.push(["Rule", rule.id === null ? rule.source : `${rule.id}, at least ${rule.minimum ?? "?"} m (${place.measure ?? "?"}): ${rule.source} (${rule.status})`]);
  const [easting, northing, level] = place.place;
  rows.push(["Where", `E ${levelText(easting)} N ${levelText(northing)} level ${levelText(level)}`]);
  return el("dl.facts", {}, rows.map(([name, value]) => [el("dt", {}, name), el("dd", {}, value)]));
}

function chainages(place: SeparationPlace, field: string): string {
  const at = place.at[field];
  return at === undefined ? "" : `, at chainage ${at.chainage_m.map((c, i) => `${levelText(c)} m of ${place.runs[i] ?? "?"}`).join(" and ")}`;
}
