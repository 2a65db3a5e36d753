// Recording the ground: surfaces and searched areas by hand, and adopting rules.

import { api } from "./api";
import type { Context } from "./context";
import { append, button, el, put } from "./dom";
import { surfaceOptions } from "./surface-choice";
import { byField, choice, EntryId, field, type Field, keepBy, need, needDecimal, Outcome, perform, select } from "./form";
import { headShort } from "./format";
import { SURFACE_KINDS } from "./record-import";
import { allServices } from "./services";
import { Sketch } from "./sketch";
import type { RuleSetView, SiteView } from "./wire";

const written = (view: SiteView): string => `The book is now at ${headShort(view.head)}.`;

const midday = (date: string): string => `${date}T12:00:00Z`;

/** A surface by hand: one level, or a plane through points. */
export function recordSurface(context: Context): void {
  const { site, page } = context;
  const name = field("Name of the surface", { hint: "The same name and kind again is a new state of it; the old one stays readable." });
  const kind = select("What it is", SURFACE_KINDS, { blank: "Say which", hint: "A designed surface answers a dig only when it is named." });
  const when = field("When it was observed", { mode: "date" });
  const shape = choice("Its shape", [{ value: "level", text: "one level" }, { value: "points", text: "a plane through points" }]);
  const level = field("Level", { unit: "m", mode: "decimal" });
  const points = field("Points, as E,N,Z a line", { mode: "area", rows: 4, hint: "Three or more. For a triangulated surface, import a file." });
  const sigma = field("Standard deviation of its level", { unit: "mm", mode: "decimal", hint: "Blank: not stated, and then no cover below it can be proved." });
  const by = byField();
  const outcome = new Outcome();
  level.node.hidden = true;
  points.node.hidden = true;
  shape.onChange((value) => {
    level.node.hidden = value !== "level";
    points.node.hidden = value !== "points";
  });
  const key = button("Record the surface", () => void act(), "ink");
  const entry = new EntryId();
  const act = async (): Promise<void> => {
    const n = need(name, "a surface needs a name: every depth is given below one");
    const k = n === null ? null : need(kind, "say what it is");
    const d = k === null ? null : need(when, "say when it was observed");
    if (d === null) return;
    if (!shape.value()) {
      shape.wrong("say which shape");
      return;
    }
    const body: Record<string, unknown> = { name: n, surface_kind: k, observed_at: midday(d) };
    if (shape.value() === "level") {
      const l = needDecimal(level, true);
      if (l === null) return;
      body["level_m"] = l;
    } else {
      const rows = points.text().split(/\r?\n/).filter((r) => r.trim() !== "").map((r) => r.trim().split(/\s*[,;]\s*|\s+/));
      const bad = rows.findIndex((r) => r.length !== 3 || r.some((v) => !/^[+-]?\d+(\.\d+)?$/.test(v)));
      if (bad >= 0 || rows.length < 3) {
        points.wrong(bad >= 0 ? `row ${bad + 1} is not three numbers: write E,N,Z` : "a plane needs at least three points");
        return;
      }
      body["points"] = rows;
    }
    const s = needDecimal(sigma, false);
    if (s === null) return;
    if (s !== undefined) body["sigma_v_mm"] = s;
    const who = need(by, "the book shows who recorded it");
    if (who === null) return;
    keepBy(who);
    await perform(outcome, key, "Recording the surface.", () => entry.send((id) => api.surface(site.id, { id, ...body, by: who })), written);
    await site.refresh().catch(() => undefined);
  };
  append(page, [el("h1", {}, "A surface"),
    el("form.form", { submit: (e) => { e.preventDefault(); void act(); } }, name.node, kind.node, when.node, shape.node, level.node, points.node, sigma.node, by.node, el("div.acts", {}, key), outcome.node)]);
}

/** A searched area by hand. */
export function recordSearched(context: Context): void {
  const { site, plan, page } = context;
  const name = field("Name of the area");
  const sketch = new Sketch(plan, true, 0, "Touch the plan round the ground that was searched, or paste corners here.");
  const all = choice("Looked for", [{ value: "all", text: "every service" }, { value: "some", text: "only some" }]);
  const boxes = allServices().map((s) => ({ slug: s.slug, box: el("input", { type: "checkbox" }), text: `${s.letters}  ${s.name}` }));
  const some = el("div.choice-row", { hidden: true }, boxes.map((b) => el("label.choice-item", {}, b.box, el("span", {}, b.text))));
  all.onChange((value) => { some.hidden = value !== "some"; });
  const method = field("How it was searched", { hint: "Open trench watched, detector and which kind, radar, hand pits." });
  const down = choice("Down to", [{ value: "depth", text: "a depth below a surface" }, { value: "level", text: "a level" }]);
  const depth = field("Depth", { unit: "m", mode: "decimal" });
  const surface = select("Below which surface", surfaceOptions(site.view?.surfaces ?? []), { blank: "Say which" });
  const level = field("Level", { unit: "m", mode: "decimal" });
  for (const f of [depth, surface, level]) f.node.hidden = true;
  down.onChange((value) => {
    depth.node.hidden = surface.node.hidden = value !== "depth";
    level.node.hidden = value !== "level";
  });
  const outcomeOf = choice("How it ended", [
    { value: "all-found-recorded", text: "everything found is recorded" }, { value: "some-not-recorded", text: "something found is not recorded" }, { value: "unable", text: "it could not be searched" },
  ]);
  const sigma = field("Standard deviation of the ring", { unit: "mm", mode: "decimal", hint: "Blank: the ring is drawn in by a stated default." });
  const when = field("When", { mode: "date" });
  const by = byField();
  const outcome = new Outcome();
  const key = button("Record the searched area", () => void act(), "ink");
  const entry = new EntryId();
  const act = async (): Promise<void> => {
    const ring = sketch.read(3);
    const n = ring === null ? null : need(name, "name the area, so that it can be found in the book");
    if (ring === null || n === null) return;
    if (!all.value()) return void all.wrong("say what was looked for");
    const services = all.value() === "all" ? null : boxes.filter((b) => b.box.checked).map((b) => b.slug);
    if (services !== null && services.length === 0) return void all.wrong("mark at least one service");
    const m = need(method, "say how it was searched");
    if (m === null) return;
    const body: Record<string, unknown> = { area: n, ring: ring.map((p) => [p.easting.toFixed(3), p.northing.toFixed(3)]), services, method: m };
    if (down.value() === "depth") {
      const d = needDecimal(depth, true);
      const s = d === null ? null : need(surface, "say below which surface");
      if (s === null) return;
      body["depth_m"] = d;
      body["surface"] = s;
    } else if (down.value() === "level") {
      const l = needDecimal(level, true);
      if (l === null) return;
      body["level_m"] = l;
    } else return void down.wrong("say how deep the search reached");
    if (!outcomeOf.value()) return void outcomeOf.wrong("say how it ended; only a search whose finds are all recorded counts toward a dig");
    const sg = needDecimal(sigma, false);
    const w = sg === null ? null : need(when, "say when it was searched");
    const who = w === null ? null : need(by, "the book shows who searched");
    if (w === null || who === null) return;
    keepBy(who);
    await perform(outcome, key, "Recording the area.", () => entry.send((id) => api.searched(site.id, {
      id, ...body, outcome: outcomeOf.value(), ...(sg === undefined ? {} : { sigma_h_mm: sg }), observed_at: midday(w), by: who,
    })), written);
    await site.refresh().catch(() => undefined);
  };
  append(page, [el("h1", {}, "A searched area"),
    el("p", {}, "Where somebody looked is as much a record as what they found: everywhere else stays hatched."),
    el("form.form", { submit: (e) => { e.preventDefault(); void act(); } },
      sketch.node, name.node, all.node, some, method.node, down.node, depth.node, surface.node, level.node, outcomeOf.node, sigma.node, when.node, by.node,
      el("div.acts", {}, key), outcome.node)]);
}

/** Rule sets that come with the program, each figure with its source; adopting one writes its whole text in the book. */
export function adoptRules(context: Context): void {
  const { site, page } = context;
  const list = el("div", { "aria-live": "polite" }, el("p.quiet", {}, "Asking for the rule sets."));
  append(page, [el("h1", {}, "Rules"),
    el("p", {}, "A rule set is adopted by a person, by name. Figures that were not read at their source count only once that person confirms them. Local codes and licensed practice govern."),
    site.view?.rules ? el("p.empty", {}, `In force: ${site.view.rules.title}. ${site.view.rules.says}`) : el("p.caution", {}, "None is adopted: no cover can be proved and no hand zone is set."),
    list, ownRules(context)]);
  const load = async (): Promise<void> => {
    try {
      const sets = await api.rules();
      put(list, sets.length === 0 ? el("p.empty", {}, "No rule set comes with this program. Paste your own below.") : sets.map((set) => ruleSet(context, set)));
    } catch (cause) {
      put(list, el("p.refused", {}, cause instanceof Error ? cause.message : String(cause)));
    }
  };
  void load();
}

const saying = (figures: { f: { id: string }; list: Field }[], value: string): string[] =>
  figures.filter((c) => c.list.text() === value).map((c) => c.f.id);

function ruleSet(context: Context, set: RuleSetView): HTMLElement {
  const figures = set.figures.map((f) => {
    const seen = f.status === "seen";
    const list = select(f.says, [...(seen ? [["", "counts"] as [string, string]] : [["", "not confirmed: proves nothing"], ["confirm", "I confirm it"]] as [string, string][]), ["out", "does not apply on this site"]],
      { hint: `${f.source} (${f.status})` });
    return { f, list };
  });
  const by = byField();
  const outcome = new Outcome();
  const key = button(`Adopt ${set.title}`, () => void act(), "ink");
  const entry = new EntryId();
  const act = async (): Promise<void> => {
    const who = need(by, "a rule set is adopted by a person, by name");
    if (who === null) return;
    keepBy(who);
    await perform(outcome, key, "Adopting the rules.", () => entry.send((id) => api.adoptRules(context.site.id, { entry_id: id, id: set.id, confirmed: saying(figures, "confirm"), left_out: saying(figures, "out"), by: who })), written);
    await context.site.refresh().catch(() => undefined);
  };
  return el("details.run-block", {}, el("summary", {}, el("span"), el("span.name", {}, set.title), el("span"), el("span.row-small", {}, set.jurisdiction)),
    el("div.inside", {}, set.note && el("p", {}, set.note), figures.map((c) => c.list.node), by.node, el("div.acts", {}, key), outcome.node));
}

function ownRules(context: Context): HTMLElement {
  const text = field("Rules of your own, as TOML", { mode: "area", rows: 8 });
  const by = byField();
  const outcome = new Outcome();
  const key = button("Adopt these", () => void act(), "ink");
  const entry = new EntryId();
  const act = async (): Promise<void> => {
    const toml = need(text, "paste the rule set");
    const who = toml === null ? null : need(by, "a rule set is adopted by a person, by name");
    if (who === null) return;
    keepBy(who);
    await perform(outcome, key, "Adopting the rules.", () => entry.send((id) => api.adoptRules(context.site.id, { entry_id: id, text: toml, confirmed: [], by: who })), written);
    await context.site.refresh().catch(() => undefined);
  };
  return el("details.more", {}, el("summary", {}, "Rules of your own"), text.node, by.node, el("div.acts", {}, key), outcome.node);
}
