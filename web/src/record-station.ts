// Setting up: name the station, choose what was sighted, type what was read, see what comes of it, and only then
// record it. Nothing is chosen beforehand that could be wrong.

import { airForm } from "./air-form";
import { api, Refused } from "./api";
import type { Context } from "./context";
import { append, button, el, put } from "./dom";
import { byField, choice, EntryId, field, keepBy, need, needDecimal, Outcome, type Field } from "./form";
import { levelText } from "./format";
import { targetForm, unitChoice, type TargetForm } from "./sight-form";
import { controlPlaces, doubtWord, drawStation, stationAnswer } from "./station-answer";
import {
  addTarget, chosenWords, COMMON, dropDraft, emptyDraft, FIGURES, keepDraft, keptDraft, pasteReadings, USUAL_ORDER, type Figure, type StationDraft,
} from "./station-draft";
import { setUpPicture } from "./symbols";
import type { WeakGeometry } from "./plan-scene";
import { circleThrough } from "./station-geometry";
import type { AngleRead, Pair, SightKind, StationView, Triple } from "./wire";

const FIGURE_WORDS: Record<Figure, [string, string]> = {
  distance_mm: ["Distance", "mm"], distance_ppm: ["and for each kilometre", "mm (ppm)"], direction_sec: ["Direction", "seconds"],
  zenith_sec: ["Zenith angle", "seconds"], target_height_sigma_mm: ["Target height", "mm"], centring_sigma_mm: ["Target over its point", "mm"],
};
const SHOWN = 60;

/** Opens the room. */
export function setUp(context: Context): void {
  const { site, plan, page } = context;
  let draft = keptDraft(site.id);
  const places = controlPlaces(context);
  const changed = (): void => {
    keepDraft(site.id, draft);
    stale();
    paintGeometry();
  };

  const name = field("Name of the station", { value: draft.station, hint: "Short, such as ST1: it is the place where the instrument stands. Every point measured from it carries it." });
  name.input.addEventListener("input", () => { draft.station = name.text(); });
  const mark = choice("Does the instrument stand over a mark?", [{ value: "none", text: "no, anywhere" }, { value: "over", text: "yes, over a mark" }], draft.mark);
  const height = field("Height of the instrument above the mark", { unit: "m", mode: "decimal", value: draft.instrumentHeight });
  height.input.addEventListener("input", () => { draft.instrumentHeight = height.text(); });
  height.node.hidden = draft.mark !== "over";
  mark.onChange((value) => {
    draft.mark = value as typeof draft.mark;
    height.node.hidden = value !== "over";
  });

  const list = el("div");
  const chosen = el("p.chosen", { role: "status" });
  const readings = el("div");
  let forms: TargetForm[] = [];
  const showOnPlan = (): void => {
    const rays = draft.targets.flatMap((t) => {
      const at = places.get(t.target);
      return at ? [{ point: t.target, at, sightedAs: t.sightedAs, rejected: false }] : [];
    });
    plan.scene.trial = { name: draft.station, at: null, ellipse: null, rays, weak: weakBefore(draft, rays) };
    plan.draw();
  };
  const geometry = el("p.quiet", { role: "status" });
  /** The circle comes and goes with the distances; the plan is drawn again only when it does. */
  let drawn = "";
  const paintGeometry = (): void => {
    const trial = plan.scene.trial;
    if (!trial || trial.at) return;
    const weak = weakBefore(draft, trial.rays);
    put(geometry, geometryAdvice(draft, weak));
    if (JSON.stringify(weak) === drawn) return;
    drawn = JSON.stringify(weak);
    trial.weak = weak;
    plan.draw();
  };
  const paintChosen = (): void => {
    put(chosen, chosenWords(draft.targets));
    showOnPlan();
    paintGeometry();
  };
  const paintReadings = (): void => {
    forms = draft.targets.map((target, i) => targetForm(target, {
      angles: () => draft.angles, changed, before: draft.targets[i - 1],
      role: () => {
        changed();
        paintChosen();
      },
      remove: () => toggle(target.target),
    }));
    put(readings, forms.length === 0 ? el("p.empty", {}, "Choose the points first: their readings are typed here.") : forms.map((f) => f.node));
  };
  const boxes = new Map<string, HTMLInputElement>();
  const paintList = (): void => {
    boxes.clear();
    put(list, places.size === 0
      ? el("p.empty", {}, "No control is recorded. ", el("a", { href: context.href("record/import/control") }, "Import the list of known points"), " first: a station is found from them.")
      : el("div.choice-row", { role: "group", "aria-label": "Known points" }, [...places].slice(0, SHOWN).map(([point, at]) => {
        const box = el("input", { type: "checkbox", change: () => toggle(point) });
        box.checked = draft.targets.some((t) => t.target === point);
        boxes.set(point, box);
        return el("label.choice-item.known-point", {}, box, el("span", {}, point, el("span.row-small", {}, `${levelText(at[0])} E, ${levelText(at[1])} N, ${levelText(at[2])} m`)));
      })), places.size > SHOWN && el("p.quiet", {}, `The first ${SHOWN} of ${places.size}; touch the others on the plan.`));
  };
  function toggle(point: string): void {
    const there = draft.targets.findIndex((t) => t.target === point);
    if (there >= 0) draft.targets.splice(there, 1);
    else addTarget(draft, point);
    const box = boxes.get(point);
    if (box) box.checked = there < 0;
    paintChosen();
    paintReadings();
    changed();
    context.say(chosen.textContent ?? "");
  }
  plan.onTap = (place, reach) => {
    const near = [...places].map(([point, at]) => ({ point, off: Math.hypot(at[0] - place.easting, at[1] - place.northing) }))
      .filter((c) => c.off < reach * 2).sort((a, b) => a.off - b.off)[0];
    if (near) toggle(near.point);
  };

  const unit = unitChoice(draft.angles);
  unit.onChange((value) => {
    draft.angles = value as AngleRead;
    forms.forEach((f) => f.said());
  });

  const paste = field("Readings, one sight a line", { mode: "area", rows: 4, hint: `In this order, or with a header that names them: ${USUAL_ORDER.map((c) => ({ target: "point", height: "target height m", prism: "prism constant mm", slope: "slope distance m" } as Record<string, string>)[c] ?? c).join(", ")}. Part them by tabs, semicolons, commas or spaces.` });
  const pasteKey = button("Put them in", () => {
    const wrong = pasteReadings(draft, paste.text(), new Set(places.keys()));
    paste.wrong(wrong ?? "");
    if (wrong !== null) return;
    paste.input.value = "";
    paintList();
    paintChosen();
    paintReadings();
    changed();
    context.say(chosen.textContent ?? "");
  });

  const instrument = instrumentForm(draft, changed);
  const air = airForm(draft.air, changed);
  const tolerance = field("Largest difference accepted at the check", { unit: "mm", mode: "decimal", value: draft.tolerance, hint: "Blank: 3 mm in plan and in level, common practice for millimetre work." });
  tolerance.input.addEventListener("input", () => { draft.tolerance = tolerance.text(); });

  const outcome = new Outcome();
  const result = el("section.trial-result", { "aria-live": "polite" });
  const tryKey = button("Work it out", () => void work(), "ink", { "data-act": "try" });
  function stale(): void {
    if (result.childElementCount === 0) return;
    put(result, el("p.quiet", {}, "Something was changed: work it out again."));
    context.planSlot(null);
    showOnPlan();
  }

  const read = (): Record<string, unknown> | null => {
    const station = need(name, "name the station: the points measured from it will carry the name");
    if (station === null) return null;
    if (!mark.value()) return wrongChoice(mark, "say whether the instrument stands over a mark");
    const hi = mark.value() === "over" ? needDecimal(height, true) : "0";
    if (hi === null || hi === undefined) return null;
    if (draft.targets.filter((t) => t.sightedAs === "control").length < 2) {
      put(chosen, el("strong.field-wrong", {}, chosenWords(draft.targets)));
      list.scrollIntoView({ block: "center" });
      boxes.values().next().value?.focus();
      return null;
    }
    if (!unit.value()) return wrongChoice(unit, "say how the angles are written; the same figures mean another angle in another unit");
    const sights: Record<string, unknown>[] = [];
    for (const form of forms) {
      const rows = form.read(unit.value() as AngleRead);
      if (rows === null) return null;
      sights.push(...rows);
    }
    const figures = instrument.read();
    const said = figures === null ? null : air.read();
    const limit = said === null ? null : needDecimal(tolerance, false);
    if (figures === null || said === null || limit === null) return null;
    return { station, instrument: figures, ...said, angles: unit.value(), instrument_height_m: hi, sights, ...(limit === undefined ? {} : { tolerance_mm: limit }) };
  };

  const work = async (): Promise<void> => {
    const body = read();
    if (body === null || tryKey.disabled) return;
    tryKey.disabled = true;
    outcome.idle("Working it out. Nothing is recorded.");
    try {
      const view = await api.tryStation(site.id, body);
      outcome.idle();
      show(body, view);
    } catch (cause) {
      outcome.failed(cause);
      if (cause instanceof Refused) put(result);
    } finally {
      tryKey.disabled = false;
    }
  };

  const show = (body: Record<string, unknown>, view: StationView): void => {
    const slot = el("div");
    put(result, el("h2", { tabindex: -1 }, `What ${view.station} comes to`), stationAnswer(view, slot), recordForm(context, body, view, () => {
      draft = emptyDraft();
      dropDraft(site.id);
    }));
    context.planSlot(slot);
    drawStation(context, view);
    requestAnimationFrame(() => drawStation(context, view));
    const heading = result.querySelector<HTMLElement>("h2");
    heading?.focus({ preventScroll: true });
    heading?.scrollIntoView({ block: "start" });
    context.say(view.says);
  };

  paintList();
  paintChosen();
  paintReadings();
  const form = el("form.form.set-up", { submit: (e) => { e.preventDefault(); void work(); }, input: changed, change: changed },
    el("h2", {}, "1  The place"), name.node, mark.node, height.node,
    el("h2", {}, "2  What you sighted"),
    el("div.explain", {}, setUpPicture(), el("p", {}, "Sight four known points. Three find where the instrument stands; the fourth is kept back as a check, since points that found the station cannot also test it. Best are points all round, not in one line and not all on one side.")),
    list, chosen, geometry,
    el("h2", {}, "3  What you read"), unit.node,
    el("details.more", {}, el("summary", {}, "Paste readings instead of typing"), paste.node, el("div.acts", {}, pasteKey),
      el("p.quiet", {}, "A whole file of observations goes to ", el("a", { href: context.href("record/import/observations") }, "the import of observations"), ".")),
    readings,
    el("h2", {}, "4  How good the instrument is"), instrument.node,
    el("h2", {}, "5  The air"), air.node,
    el("details.more", {}, el("summary", {}, "How good the check must be"), tolerance.node),
    el("div.acts", {}, tryKey), el("p.quiet", {}, "This records nothing."), outcome.node);
  append(page, [el("h1", {}, "Set up"), el("p", {}, "Where does the instrument stand? Found from known points, checked by another, and only then used."), form, result]);
  if (places.size > 0) plan.fitPlaces([...places.values()], 84);
  context.onLeave(site.onChange((what) => {
    if (what !== "view" || controlPlaces(context).size === places.size) return;
    places.clear();
    for (const [point, at] of controlPlaces(context)) places.set(point, at);
    paintList();
  }));
}

/** What directions alone can and cannot do with the points chosen; blank once distances are read. */
function geometryAdvice(draft: StationDraft, weak: WeakGeometry): string {
  const control = draft.targets.filter((t) => t.sightedAs === "control");
  if (control.some((t) => t.sights.some((s) => s.slope.trim() !== ""))) return "";
  if (control.length === 2) return "Two directions alone find nothing: from everywhere on a circle through both points they look the same. Measure distances too.";
  if (weak.circle) return `Drawn: the circle through the three, radius ${weak.circle.radiusM.toFixed(0)} m. Standing on it, directions alone find nothing; distances mend it.`;
  return control.length === 3 ? "The three lie on one line: with directions alone the station is weak. Measure distances, or choose a point off the line." : "";
}

/** Until distances are read, the circle through three points on which their directions alone would fix nothing. */
function weakBefore(draft: StationDraft, rays: readonly { at: Triple; sightedAs: SightKind }[]): WeakGeometry {
  const control = rays.filter((r) => r.sightedAs === "control").map((r): Pair => [r.at[0], r.at[1]]);
  const [a, b, c] = control;
  const measured = draft.targets.some((t) => t.sightedAs === "control" && t.sights.some((s) => s.slope.trim() !== ""));
  const through = a && b && c && control.length === 3 && !measured ? circleThrough([a, b, c]) : null;
  return { circle: through && { ...through, near: false, matters: true }, narrowDeg: null, oneLine: control.length === 3 && !measured && through === null };
}

function wrongChoice(c: { wrong(text: string): void }, text: string): null {
  c.wrong(text);
  return null;
}

interface InstrumentForm {
  node: HTMLElement;
  read(): Record<string, unknown> | null;
}

/** What the maker states, or what is common: the second is marked as assumed, on the screen and in the book. */
function instrumentForm(draft: { instrumentName: string; figures: Record<Figure, string> }, changed: () => void): InstrumentForm {
  const name = field("Instrument", { value: draft.instrumentName, hint: "Kind and serial number, as it will stand in the book." });
  name.input.addEventListener("input", () => { draft.instrumentName = name.text(); });
  const assumed = el("div", { role: "status" });
  const fields = Object.fromEntries(FIGURES.map((k) => {
    const [label, unit] = FIGURE_WORDS[k];
    const made = field(label, { unit, mode: "decimal", value: draft.figures[k] });
    made.input.addEventListener("input", () => {
      draft.figures[k] = made.text();
      paint();
    });
    return [k, made];
  })) as Record<Figure, Field>;
  const isCommon = (): boolean => FIGURES.every((k) => draft.figures[k] === COMMON[k]);
  const paint = (): void => {
    put(assumed, isCommon() && el("p.caution", {}, doubtWord("assumed"), " These are common-practice figures, from memory of the trade, not this instrument's. Its data sheet governs. The book will say that they were assumed."));
  };
  paint();
  const key = button("Take common figures, marked as assumed", () => {
    for (const k of FIGURES) {
      draft.figures[k] = fields[k].input.value = COMMON[k];
      fields[k].wrong("");
    }
    paint();
    changed();
  });
  return {
    node: el("div", {}, el("p", {}, "One standard deviation each, from the data sheet of the instrument and of the pole."), name.node,
      el("div.pair", {}, FIGURES.map((k) => fields[k].node)), el("div.acts", {}, key), assumed),
    read() {
      const made: Record<string, unknown> = {};
      for (const k of FIGURES) {
        const value = needDecimal(fields[k], true);
        if (value === null) return null;
        made[k] = value;
      }
      const words = [name.text(), isCommon() ? "figures assumed from common practice" : ""].filter((w) => w !== "").join("; ");
      if (words) made["name"] = words;
      return made;
    },
  };
}

/** The last step: a name, and a reason where no check was passed. */
function recordForm(context: Context, body: Record<string, unknown>, view: StationView, done: () => void): HTMLElement {
  const { site } = context;
  const before = site.stations.find((s) => s.station === view.station)?.entries.at(-1);
  const passed = view.check === "passed";
  const reason = field("Why it is used without a passed check", { mode: "area", rows: 2, hint: "Stands in the book, and on everything measured from this station." });
  const by = byField();
  const outcome = new Outcome();
  const entry = new EntryId();
  const key = button(before === undefined ? "Record this station" : `Set ${view.station} anew`, () => void act(), "ink", { "data-act": "record-station" });
  const act = async (): Promise<void> => {
    const why = passed ? "" : need(reason, view.check === "failed" ? "the check failed: read again, or write why the station is used all the same" : "no check was made: sight a fourth point, or write why the station is used all the same");
    const who = why === null ? null : need(by, "the book shows who set it up");
    if (why === null || who === null || key.disabled) return;
    keepBy(who);
    key.disabled = true;
    outcome.waiting("Recording the station.");
    try {
      const kept = await entry.send((id) => api.setStation(site.id, { id, ...body, ...(why ? { unchecked_reason: why } : {}), ...(before === undefined ? {} : { saw: before }), by: who }));
      done();
      await site.refresh().catch(() => undefined);
      outcome.sent(`Station ${kept.station}. ${kept.says} `);
      outcome.node.append(el("div.acts", {}, el("a.door-link", { href: context.href("record/import/observations") }, "Import what was measured from it"), el("a.door-link", { href: context.href("record/stations") }, "All stations")));
      key.hidden = true;
    } catch (cause) {
      outcome.failed(cause);
      key.disabled = false;
    }
  };
  return el("section.record-station", {},
    before !== undefined && el("p.caution", {}, `${view.station} was set by entry ${before}. Setting it anew moves every point measured from it; the old state stays readable in the book.`),
    !passed && [el("p.caution", {}, doubtWord(view.check === "failed" ? "check failed" : "not checked"), " Better than a reason: sight the check point again, or another one."), reason.node],
    by.node, el("div.acts", {}, key), outcome.node);
}
