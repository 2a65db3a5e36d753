// A station set anew: the same readings, other control or a figure put right. What would move is shown first; then it
// is recorded, and the old setting stays readable.

import { airForm } from "./air-form";
import { api, Refused } from "./api";
import type { Context } from "./context";
import { append, button, el, put } from "./dom";
import { byField, choice, EntryId, field, keepBy, need, needDecimal, Outcome, type Field } from "./form";
import { count, levelText, mmWords, plusMinus, signedMm } from "./format";
import { anewSights, type Part } from "./anew-sights";
import { emptyAir } from "./station-draft";
import { checkWord, controlPlaces, doubtWord, drawStation, stationAnswer } from "./station-answer";
import type { AnewView, KnownSight, StationBody, StationView } from "./wire";

interface TargetEdit {
  target: string;
  node: HTMLElement;
  part(): Part;
  /** What was put right, or null with a word beside the field that is wrong. */
  read(): { height?: string; prism?: string; control: Record<string, string> | null } | null;
}

/** What setting anew sends: the readings as booked with what was changed, and control that was put right. */
export interface Anew {
  body: StationBody;
  control: Record<string, string>[];
}

/** Opens the room. */
export function setAnew(context: Context, name: string): void {
  const { site, page } = context;
  const view = site.stations.find((s) => s.station === name);
  append(page, [el("h1", {}, `Set ${name} anew`)]);
  if (!view) {
    append(page, [el("p.empty", {}, "No station of that name is set. ", el("a", { href: context.href("record/stations") }, "Stations and level books"), ".")]);
    return;
  }
  drawStation(context, view);
  const body = el("div", { "aria-live": "polite" }, el("p.quiet", {}, "Asking the book for its readings."));
  append(page, [el("p", {}, "Better control came, or a figure was wrong: the readings stay as they were booked, and every point measured from here follows. What stood before stays readable."), body]);
  const load = async (): Promise<void> => {
    try {
      form(context, view, await api.stationBody(site.id, view), body);
    } catch (cause) {
      put(body, el("p.refused", {}, cause instanceof Error ? cause.message : String(cause)), button("Ask again", () => void load()));
    }
  };
  void load();
}

const PARTS: { value: Part; text: string }[] = [{ value: "control", text: "finds the station" }, { value: "check", text: "kept as check" }, { value: "out", text: "left out" }];

const figure = (label: string, unit: string, was: string): Field => field(label, { unit, mode: "decimal", hint: `Blank: as it stands, ${was}.` });

function targetEdit(context: Context, target: string, sights: readonly KnownSight[]): TargetEdit {
  const part = choice(`What ${target} is for`, PARTS, sights[0]?.sighted_as ?? "");
  const at = controlPlaces(context).get(target);
  const booked = (of: (s: KnownSight) => string): string => [...new Set(sights.map(of))].join(" and ");
  const height = figure("Target height", "m", booked((s) => s.target_height_m));
  const prism = figure("Prism constant", "mm", booked((s) => s.prism_mm));
  const place = (["Easting", "Northing", "Level"] as const).map((label, k) => figure(label, "m", at ? levelText(at[k] as number) : "not known"));
  const source = field("Where the better figures come from", { hint: "Stands beside the point in the book." });
  const node = el("section.target", { "data-target": target }, el("h3", {}, target), part.node,
    el("details.more", {}, el("summary", {}, `A figure of ${target} was wrong`),
      el("div.pair", {}, height.node, prism.node),
      el("h4", {}, "The point itself"), el("div.triple", {}, place.map((f) => f.node)), source.node));
  return {
    target, node,
    part: () => part.value() as Part,
    read() {
      const values: (string | undefined)[] = [];
      for (const f of [height, prism, ...place]) {
        const value = needDecimal(f, false);
        if (value === null) {
          node.querySelector("details")?.setAttribute("open", "");
          f.input.focus();
          return null;
        }
        values.push(value);
      }
      const [h, p, e, n, l] = values;
      const moved = [e, n, l].some((v) => v !== undefined);
      const control = moved ? { point: target, ...(e === undefined ? {} : { easting_m: e }), ...(n === undefined ? {} : { northing_m: n }), ...(l === undefined ? {} : { level_m: l }), ...(source.text() ? { note: source.text() } : {}) } : null;
      return { ...(h === undefined ? {} : { height: h }), ...(p === undefined ? {} : { prism: p }), control };
    },
  };
}

function form(context: Context, view: StationView, standing: StationBody, into: HTMLElement): void {
  const { site, plan } = context;
  const targets = [...new Set(standing.sights.map((s) => s.target))];
  const edits = targets.map((target) => targetEdit(context, target, standing.sights.filter((s) => s.target === target)));
  const airDraft = emptyAir();
  const air = airForm(airDraft, () => stale());
  const airMore = el("details.more", {}, el("summary", {}, "The air was wrong"), el("p.quiet", {}, `As it stands: ${view.air_says}`), air.node);
  const outcome = new Outcome();
  const result = el("section.trial-result", { "aria-live": "polite" });
  const key = button("What would move?", () => void work(), "ink", { "data-act": "try-anew" });
  const stale = (): void => {
    if (result.childElementCount === 0) return;
    put(result, el("p.quiet", {}, "Something was changed: ask again what would move."));
    context.planSlot(null);
    plan.light([]);
    drawStation(context, view);
  };
  const read = (): Anew | null => {
    const right = new Map<string, { height?: string; prism?: string }>();
    const control: Record<string, string>[] = [];
    for (const edit of edits) {
      const said = edit.read();
      if (said === null) return null;
      right.set(edit.target, said);
      if (said.control) control.push(said.control);
    }
    const sights = anewSights(standing.sights, new Map(edits.map((e) => [e.target, e.part()])), right);
    if (new Set(sights.filter((s) => s.sighted_as === "control").map((s) => s.target)).size < 2) {
      outcome.failed(new Error("at least two points must find the station"));
      return null;
    }
    const said = air.read();
    if (said === null) {
      airMore.open = true;
      return null;
    }
    const { air: _air, air_in_instrument: _entered, ...rest } = standing;
    return { body: { ...(airDraft.how === "" ? standing : rest), ...said, sights }, control };
  };
  const work = async (): Promise<void> => {
    const anew = read();
    if (anew === null || key.disabled) return;
    key.disabled = true;
    outcome.idle("Working it out. Nothing is recorded.");
    try {
      const moves = await api.tryAnew(site.id, { ...anew.body, ...(anew.control.length > 0 ? { control: { points: anew.control } } : {}) });
      outcome.idle();
      const slot = el("div");
      put(result, el("h2", { tabindex: -1 }, "What would move"), movesNode(context, moves, slot),
        // The same setting once more would only lengthen the book.
        (moves.changed.length > 0 || anew.control.length > 0) && recordAnew(context, anew, moves));
      context.planSlot(slot);
      drawStation(context, moves.after);
      plan.light(moves.runs.map((r) => r.run));
      requestAnimationFrame(() => drawStation(context, moves.after));
      const heading = result.querySelector<HTMLElement>("h2");
      heading?.focus({ preventScroll: true });
      heading?.scrollIntoView({ block: "start" });
      context.say(moves.says);
    } catch (cause) {
      outcome.failedInView(cause);
      if (cause instanceof Refused) put(result);
    } finally {
      key.disabled = false;
    }
  };
  put(into, el("form.form.set-up", { submit: (e) => { e.preventDefault(); void work(); }, input: stale, change: stale },
    edits.map((e) => e.node), airMore, el("div.acts", {}, key), el("p.quiet", {}, "This records nothing."), outcome.node), result);
}

const settingRow = (name: string, s: StationView): HTMLElement => el("p.setting-figures", {}, el("span.quiet", {}, `${name}: `),
  `${levelText(s.at[0])} E, ${levelText(s.at[1])} N ${plusMinus(s.u95_h_m)} m; level ${s.level_m === null ? "not known" : `${levelText(s.level_m)} m ${plusMinus(s.u95_v_m)} m`}`);

/** What moves: the sentence, what is different, and the figures behind a touch. */
function movesNode(context: Context, moves: AnewView, slot: HTMLElement): HTMLElement {
  const after = moves.after;
  return el("div.station-answer", {},
    el("p.says", { "data-role": "moves-says" }, moves.says),
    el("p.station-marks", {}, after.fits ? el("span.verdict", {}, "readings agree") : doubtWord("readings do not agree"), " ", checkWord(after)),
    slot,
    moves.changed.length === 0
      ? el("p.caution", {}, "Nothing is different from the setting that stands.")
      : el("section", {}, el("h3", {}, "What is different"), el("ul.plain.findings", {}, moves.changed.map((text) => el("li", { "data-severity": "note" }, `${text}.`)))),
    after.suspect.length > 0 && el("p.caution", {}, doubtWord(), ` ${after.suspect.join(", ")}: shot since the last check that passed.`),
    el("section", {}, el("h3", {}, "The station itself"), settingRow("stands", moves.before), settingRow("anew", after),
      el("p", {}, `It moves ${mmWords(moves.station_plan_m)} in plan${moves.station_level_m === null ? "" : ` and ${signedMm(moves.station_level_m)}\u00a0mm in level`}.`)),
    moves.runs.length > 0 && el("details.more", {}, el("summary", {}, `The ${count(moves.runs.length, "run")} that move${moves.runs.length === 1 ? "s" : ""}`),
      el("ul.plain", {}, moves.runs.map((r) => el("li.legend-row", {}, el("a", { href: context.href(`run/${encodeURIComponent(r.run)}`) }, r.run),
        el("span", {}, `${count(r.points, "point")}, up to ${mmWords(r.plan_m)} in plan and ${signedMm(r.level_m)}\u00a0mm in level`))))),
    el("details.more", {}, el("summary", {}, "The station anew, with its figures"), stationAnswer(after)));
}

/** The last step: a name, and a reason where no check passes. */
function recordAnew(context: Context, anew: Anew, moves: AnewView): HTMLElement {
  const { site } = context;
  const { after } = moves;
  const passed = after.check === "passed";
  const reason = field("Why it is used without a passed check", { mode: "area", rows: 2, hint: "Stands in the book, and on everything measured from this station." });
  const by = byField();
  const outcome = new Outcome();
  const [entry, controlEntry] = [new EntryId(), new EntryId()];
  const key = button(`Set ${after.station} anew`, () => void act(), "ink", { "data-act": "record-anew" });
  const act = async (): Promise<void> => {
    const why = passed ? "" : need(reason, "no check passes: keep a point as check, or write why the station is used all the same");
    const who = why === null ? null : need(by, "the book shows who set it anew");
    if (why === null || who === null || key.disabled) return;
    keepBy(who);
    key.disabled = true;
    outcome.waiting("Setting the station anew.");
    try {
      const kept = await entry.send((id) => controlEntry.send((control) => api.setStation(site.id, {
        id, ...anew.body, ...(anew.control.length > 0 ? { control: { id: control, points: anew.control } } : {}), ...(why ? { unchecked_reason: why } : {}), by: who,
      })));
      await site.refresh().catch(() => undefined);
      outcome.sent(`Station ${kept.station}. ${moves.says} `);
      outcome.node.append(el("div.acts", {}, el("a.door-link", { href: context.href(`record/stations/${encodeURIComponent(kept.station)}`) }, "Its card, with every setting"), el("a.door-link", { href: context.href("cover") }, "Check before cover")));
      key.hidden = true;
    } catch (cause) {
      outcome.failed(cause);
      key.disabled = false;
    }
  };
  return el("section.record-station", {},
    anew.control.length > 0 && el("p", {}, `With it ${anew.control.map((c) => c["point"]).join(", ")} ${anew.control.length === 1 ? "is" : "are"} recorded as put right: two entries, both or neither.`),
    !passed && [el("p.caution", {}, doubtWord(after.check === "failed" ? "check failed" : "not checked"), " Everything measured from here would say so."), reason.node],
    by.node, el("div.acts", {}, key), outcome.node);
}
