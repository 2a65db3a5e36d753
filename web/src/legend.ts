// What every line, hatch and mark means: drawn as the plan draws them.

import type { Context } from "./context";
import { append, el } from "./dom";
import { allServices, MM, serviceInk } from "./services";
import { controlMark, doubtSign, lineSample, stationMark } from "./symbols";

/** Opens the legend. */
export function legend(context: Context): void {
  append(context.page, [
    el("h1", {}, "How to read the plan"),
    el("h2", {}, "Ground"),
    el("div.legend-row", {}, el("span.swatch.hatched"), el("span", {}, el("strong", {}, "Hatched: not recorded here. "), "Nobody searched, or nobody wrote it down. It says nothing about what lies there.")),
    el("div.legend-row", {}, el("span.swatch"), el("span", {}, el("strong", {}, "Plain inside a line: searched for every service. "), "To the depth and on the day that the search states, and no more.")),
    el("div.legend-row", {}, el("span.swatch.hatched"), el("span", {}, el("strong", {}, "Hatched inside dashes: searched for some. "), "Only for the services whose letters stand at its corner; for the others nobody searched.")),
    el("h2", {}, "Control and stations"),
    el("div.legend-row", {}, controlMark(true), el("span", {}, el("strong", {}, "Triangle: a known point. "), "In a set-up, filled where it finds the station, empty where it checks it.")),
    el("div.legend-row", {}, stationMark(), el("span", {}, el("strong", {}, "Tripod: a station. "), "Where the instrument stood. Its ellipse holds it 95 times in 100; it is drawn larger by the factor written beside it.")),
    el("div.legend-row", {}, doubtSign(), el("span", {}, el("strong", {}, "Lozenge: in doubt. "), "Its station was not checked or failed its check, or levels disagree. The card says which.")),
    el("h2", {}, "Services"),
    el("p", {}, "Letters first, line pattern second, colour third."),
    allServices().map((s) => el("div.legend-row", {}, lineSample(s.letters, s.dash_mm.map((mm) => mm * MM), serviceInk(s.slug), true), el("span", {}, el("strong", {}, s.letters), `  ${s.name}`))),
    el("h2", {}, "How a run is known"),
    el("div.legend-row", {}, lineSample("", [], "currentColor", true), el("span", {}, "Filled: seen open when it was measured.")),
    el("div.legend-row", {}, lineSample("", [], "currentColor", false), el("span", {}, "Hollow: traced, drawn from records, or assumed.")),
    el("p", {}, "The pale band along a run is its 95 % in plan, at true scale; the worse end counts for the whole leg. No band: the uncertainty is not known."),
    el("h2", {}, "Ends"),
    el("p", {}, "A bar is a cap, a square a structure, a dot a joint. A fan of three rays: it may go on, and nobody recorded where."),
    el("h2", {}, "The staff"),
    el("p", {}, "A levelling staff stood in the hole. The turf line is the named surface; each pipe is drawn at its level and to its size, with its 95 % as a bar with ends. A dotted bar without ends: not known. The toothed line is the floor of the dig."),
  ]);
}
