// The list of sites, opening one, and a site's first page: the ground cut open at three doors, and the Book.

import { api } from "./api";
import { button, el, put } from "./dom";
import { byField, field, need, needDecimal, Outcome, keepBy } from "./form";
import { count, dateWords, headShort } from "./format";
import type { OpenSite } from "./site";
import { doubtWord } from "./station-answer";
import { doorMark, trench } from "./symbols";

/** All sites of this register. */
export async function sitesPage(app: HTMLElement): Promise<void> {
  const list = el("div.site-list", {}, el("p.quiet", {}, "Asking for the sites"));
  const opening = el("section.opening");
  put(app, el("main.lone.sites", { id: "page", tabindex: -1 },
    el("h1.lone-title", {}, "Coverbook"),
    el("p.lead", {}, "What lies under the ground, measured before it was covered."),
    list, opening));
  put(opening, button("Open a new site", () => put(opening, openForm()), "ink"));
  try {
    const sites = await api.sites();
    if (sites.length === 0) {
      put(list, el("p.empty", {}, "No site yet. Open one: it needs a name, a level datum, a bench mark, and roughly where it is."));
      put(opening, openForm());
    } else {
      put(list, el("h2.small-title", {}, "Sites"), el("ul.plain", {}, sites.map((s) => el("li", {},
        el("a.site-line", { href: `#/s/${encodeURIComponent(s.id)}` },
          el("span.site-name", {}, s.name),
          el("span.quiet", {}, `${count(s.head.n, "entry", "entries")}, book at ${headShort(s.head)}`))))));
    }
  } catch (cause) {
    put(list, el("p.refused", {}, `No answer from the server. ${cause instanceof Error ? cause.message : ""}`),
      button("Ask again", () => void sitesPage(app)));
  }
}

function openForm(): HTMLElement {
  const name = field("Name of the site");
  const epsg = field("EPSG code of the grid", { hint: "Leave blank for a grid of the site's own. Then there is no longitude and latitude.", mode: "decimal" });
  const datum = field("Level datum", { hint: "The named zero that levels are above." });
  const mark = field("Bench mark", { hint: "The mark those levels hang on, with its level." });
  const easting = field("Roughly where: easting", { unit: "m", mode: "decimal" });
  const northing = field("Northing", { unit: "m", mode: "decimal" });
  const level = field("Level", { unit: "m", mode: "decimal", hint: "Points far from here are questioned before they are recorded." });
  const contact = field("Whom to ring", { hint: "Printed on every sheet. Leave blank rather than guess." });
  const by = byField();
  const outcome = new Outcome();
  const key = button("Open the site", () => void act(), "ink");
  const act = async (): Promise<void> => {
    const n = need(name, "a site needs a name");
    const d = n === null ? null : need(datum, "levels mean nothing without a named datum");
    const b = d === null ? null : need(mark, "name the mark the levels hang on");
    const e = b === null ? null : needDecimal(easting, true);
    const no = e === null ? null : needDecimal(northing, true);
    const l = no === null ? null : needDecimal(level, true);
    const who = l === null ? null : need(by, "the book shows who opened the site");
    const code = who === null ? null : needDecimal(epsg, false);
    if (who === null || code === null) return;
    keepBy(who);
    key.disabled = true;
    outcome.waiting("Opening the site.");
    try {
      const made = await api.openSite({
        name: n, epsg: code === undefined ? null : Number(code), level_datum: d, bench_mark: b,
        near: { easting: e, northing: no, level: l }, by: who, contact: contact.text() || null,
      });
      location.hash = `/s/${encodeURIComponent(made.id)}`;
    } catch (cause) {
      outcome.failed(cause);
      key.disabled = false;
    }
  };
  return el("form.form", { submit: (e) => { e.preventDefault(); void act(); } },
    el("h2.small-title", {}, "Open a site"), name.node, epsg.node, datum.node, mark.node,
    el("div.triple", {}, easting.node, northing.node, level.node), contact.node, by.node, el("div.acts", {}, key), outcome.node);
}

/** A site's first page. */
export function firstPage(app: HTMLElement, site: OpenSite, themeKey: HTMLElement): () => void {
  const base = `#/s/${encodeURIComponent(site.id)}`;
  const title = el("h1.first-title");
  const facts = el("p.first-facts");
  const notes = el("div.first-notes");
  const say = { record: el("span.door-says"), cover: el("span.door-says"), dig: el("span.door-says"), book: el("span.door-says") };
  const door = (slug: "record" | "cover" | "dig", name: string) =>
    el("a.first-door", { href: `${base}/${slug}` }, trench(slug), el("span.door-words", {}, el("span.door-name", {}, name), say[slug]));
  put(app, el("main.first", { id: "page", tabindex: -1 },
    el("header.first-head", {}, el("a.first-up", { href: "#/" }, "All sites"), themeKey, title, facts),
    el("nav.first-doors", { "aria-label": "Doors" }, door("record", "Record"), door("cover", "Before cover"), door("dig", "Planned dig")),
    el("a.first-book", { href: `${base}/book` }, doorMark("book"), el("span.door-words", {}, el("span.door-name", {}, "The Book"), say.book)),
    notes));
  const paint = (): void => {
    const v = site.view;
    if (!v) return;
    title.textContent = v.name;
    put(facts, `Levels above ${v.grid.level_datum}, on ${v.grid.bench_mark}. Grid: ${v.grid.name}${v.grid.epsg === null ? ", untied" : ""}, ${v.grid.distances} distances.`);
    const c = v.counts;
    say.record.textContent = c.points === 0
      ? "Nothing recorded yet. Begin with control and a file of measured points."
      : `${count(c.runs, "run")} through ${count(c.points, "point")}, ${count(c.searched, "searched area")}.`;
    say.cover.textContent = c.expected > 0 ? `${count(c.expected, "run")} expected. What is met, short, not proved, missing.` : "What is met, short, not proved. No list of expected runs yet.";
    say.dig.textContent = "Where and how deep: what is there, how sure, and where nobody looked.";
    say.book.textContent = v.head.n === 0 ? "Empty." : `${count(v.head.n, "entry", "entries")}, the last ${v.head.recorded_at ? dateWords(v.head.recorded_at) : ""}. Head ${headShort(v.head)}.`;
    put(notes,
      v.read_only !== null && el("p.caution", {}, `Read only: ${v.read_only}`),
      site.stations.some((s) => s.check !== "passed" || s.suspect.length > 0) && el("p.caution", {}, doubtWord(), " A station without a passed check, and what was measured from it. ", el("a", { href: `${base}/record/stations` }, "Which"), "."),
      v.rules === null && el("p.caution", {}, "No rule set is adopted: no cover can be proved and no hand zone is set. ", el("a", { href: `${base}/record/rules` }, "Adopt one"), "."),
      v.cautions.length > 0 && el("details.more", {}, el("summary", {}, "Read before you dig"), v.cautions.map((text) => el("p.caution", {}, text))));
  };
  paint();
  return site.onChange(paint);
}
