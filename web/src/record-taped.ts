// A point by tape: distances from two known points and a third as check, or along a line and square off it. Drawn while
// it is typed, worked out by the server, and only then recorded.

import { api, Refused } from "./api";
import type { Context } from "./context";
import { append, button, el, freshId, put } from "./dom";
import { byField, choice, EntryId, field, keepBy, need, needDecimal, Outcome, select, type Field } from "./form";
import { decimal, levelText, lengthWords, plusMinus, slugWords } from "./format";
import { levelForm } from "./level-from";
import { pointsOf } from "./points-of";
import { controlPlaces, doubtWord } from "./station-answer";
import { touchedPicture } from "./symbols";
import { meetings, missing, type Side, type Tape } from "./taped-geometry";
import type { Pair, PointCard, Triple } from "./wire";

const TOUCHED: [string, string][] = [["outside-top", "outside top"], ["invert", "invert"], ["centre", "centre"], ["outside-bottom", "outside bottom"], ["ground", "ground"], ["other", "other"]];
const KNOWN: [string, string][] = [["seen-checked", "seen open, and checked"], ["seen", "seen open"], ["traced", "traced with a detector"], ["drawn", "taken from records"], ["assumed", "assumed"]];

interface Row { from: Field; metres: Field; rise: Field; node: HTMLElement }

/** Opens the room. */
export function recordTaped(context: Context): void {
  const { site, plan, page } = context;
  const places = new Map<string, Triple>(controlPlaces(context));
  const listId = freshId("marks");
  const names = el("datalist", { id: listId });
  const paintNames = (): void => put(names, [...places.keys()].map((name) => el("option", { value: name })));
  paintNames();

  const label = field("Name of the point", { hint: "Short and its own on this site, such as T1." });
  const touched = choice("What did the tape touch?", TOUCHED.map(([value, text]) => ({ value, text, picture: touchedPicture(value) })));
  const known = select("How it is known", KNOWN, { blank: "Say how" });
  const way = choice("How was it taped?", [
    { value: "ties", text: el("span", {}, "From known points", el("span.row-small", {}, "a distance from each of two, a third as check")) },
    { value: "offset", text: el("span", {}, "Along a line and square off it", el("span.row-small", {}, "between two known points")) },
  ]);
  const rows = ["From the first known point", "From the second", "From a third, as check"].map((title, i) => tapeRow(title, i, listId));
  const tapeSigma = field("How good one distance is, one sigma", { unit: "mm", mode: "decimal", hint: "5 mm is common for a steel tape held level (common practice)." });
  const lineFrom = field("The line begins at", { list: listId, hint: "Touch it on the plan, or type its name." });
  const lineTo = field("and runs to", { list: listId });
  const chainage = field("Along the line from its beginning", { unit: "m", mode: "decimal" });
  const offset = field("Square off it", { unit: "m", mode: "decimal", hint: "0 on the line itself." });
  const square = field("How square it was set", { unit: "\u00b0, one sigma", mode: "decimal", hint: "Blank: by eye, and the book says so." });
  const side = choice("On which side?", [{ value: "left", text: "left" }, { value: "right", text: "right" }]);
  const sideWords = el("p.quiet", { role: "status" });
  const level = levelForm(context, () => listId);
  const outcome = new Outcome();
  const result = el("section.trial-result", { "aria-live": "polite" });
  const key = button("Where is it?", () => void work(), "ink", { "data-act": "try-point" });
  const inside = el("div");
  const slot = el("div");

  const isOffset = (): boolean => way.value() === "offset";
  /** The tapes typed so far whose marks are known here. */
  const tapes = (): { point: string; at: Pair; metres: number }[] => (isOffset() ? [] : rows.flatMap((row) => {
    const at = places.get(row.from.text());
    return at ? [{ point: row.from.text(), at: [at[0], at[1]] as Pair, metres: decimal(row.metres.text()) ?? 0 }] : [];
  }));
  const candidates = (): { at: Record<Side, Pair> | null; says: string } => {
    if (isOffset()) {
      const [a, b] = [places.get(lineFrom.text()), places.get(lineTo.text())];
      const [c, o] = [decimal(chainage.text()), decimal(offset.text())];
      if (!a || !b || c === null || o === null || o === 0) return { at: null, says: "" };
      const base = Math.hypot(b[0] - a[0], b[1] - a[1]);
      if (base === 0) return { at: null, says: "" };
      const [e, n] = [(b[0] - a[0]) / base, (b[1] - a[1]) / base];
      const off = (s: number): Pair => [a[0] + c * e + s * o * n, a[1] + c * n - s * o * e];
      return { at: { left: off(-1), right: off(1) }, says: `Looking from ${lineFrom.text()} to ${lineTo.text()}. Touch the place on the plan, or say it here.` };
    }
    const [first, second] = tapes().filter((t) => t.metres > 0);
    if (!first || !second || first.point !== rows[0]?.from.text() || second.point !== rows[1]?.from.text()) return { at: null, says: "" };
    const [p, q]: [Tape, Tape] = [first, second];
    const met = meetings(p, q);
    return met
      ? { at: met, says: `Looking from ${first.point} to ${second.point}. Touch the place on the plan, or say it here.` }
      : { at: null, says: `These two distances do not meet: they miss each other by about ${lengthWords(missing(p, q))}. Look for a wrong point, a wrong tape end or a misread metre.` };
  };
  const paint = (): void => {
    const found = candidates();
    put(sideWords, found.says);
    plan.scene.taped = {
      tapes: isOffset() ? [lineFrom, lineTo].flatMap((f) => {
        const at = places.get(f.text());
        return at ? [{ point: f.text(), at: [at[0], at[1]] as Pair, metres: 0 }] : [];
      }) : tapes(),
      places: found.at ? (["left", "right"] as const).map((s) => ({ side: s, at: (found.at as Record<Side, Pair>)[s], chosen: side.value() === s })) : [],
    };
    plan.draw();
  };
  const changed = (): void => {
    if (result.childElementCount > 0) put(result, el("p.quiet", {}, "Something was changed: ask again where it is."));
    plan.scene.circles = [];
    paint();
  };
  /** Shows the tapes in view, once there are two to look at. */
  const look = (): void => {
    const shown = plan.scene.taped;
    if (shown && shown.tapes.length > 1) plan.fitPlaces([...shown.tapes.map((t) => t.at), ...shown.places.map((p) => p.at)], 70);
  };
  const paintWay = (): void => {
    put(inside,
      way.value() === "ties" && [rows.map((r) => r.node), tapeSigma.node],
      way.value() === "offset" && [el("div.pair", {}, lineFrom.node, lineTo.node), el("div.pair", {}, chainage.node, offset.node), tapeSigma.node, square.node],
      way.value() !== "" && [side.node, sideWords, slot]);
    // On a phone the plan stands where the side is chosen: it is touched there.
    context.planSlot(way.value() === "" ? null : slot);
    paint();
  };
  way.onChange(paintWay);
  side.onChange(changed);
  for (const f of [...rows.flatMap((r) => [r.from, r.metres]), lineFrom, lineTo, chainage, offset]) {
    f.input.addEventListener("input", paint);
    f.input.addEventListener("change", look);
  }

  plan.onTap = (place, reach) => {
    const near = (at: readonly number[]): number => Math.hypot((at[0] as number) - place.easting, (at[1] as number) - place.northing);
    const candidate = plan.scene.taped?.places.map((p) => ({ p, off: near(p.at) })).filter((c) => c.off < reach * 1.6).sort((x, y) => x.off - y.off)[0];
    if (candidate) {
      side.set(candidate.p.side);
      changed();
      context.say(`${candidate.p.side} of the line`);
      return;
    }
    const mark = [...places].map(([name, at]) => ({ name, off: near(at) })).filter((c) => c.off < reach * 1.6).sort((x, y) => x.off - y.off)[0];
    const blank = (isOffset() ? [lineFrom, lineTo] : rows.map((r) => r.from)).find((f) => f.text() === "");
    if (!mark || !blank || way.value() === "") return;
    blank.input.value = mark.name;
    blank.wrong("");
    changed();
    context.say(`from ${mark.name}`);
  };

  const sigma = (): string | null => needDecimal(tapeSigma, true) ?? null;
  const readMeasured = (): Record<string, unknown> | null => {
    if (isOffset()) {
      const from = need(lineFrom, "name where the line begins");
      const to = from === null ? null : need(lineTo, "name where the line runs to");
      const c = to === null ? null : needDecimal(chainage, true);
      const o = c === null ? null : needDecimal(offset, true);
      const s = o === null ? null : sigma();
      const q = s === null ? null : needDecimal(square, false);
      if (o === null || o === undefined || s === null || q === null) return null;
      const onLine = Number(o) === 0;
      if (!onLine && !side.value()) return wrong(side, "say on which side of the line it lies");
      return { by: "offset", from, to, chainage_m: c, chainage_sigma_mm: s, offset_m: o, offset_sigma_mm: s, side: onLine ? "on-line" : side.value(), ...(q === undefined ? {} : { square_sigma_deg: q }) };
    }
    const ties: Record<string, string>[] = [];
    for (const [i, row] of rows.entries()) {
      if (i === 2 && row.from.text() === "" && row.metres.text() === "") continue;
      const from = need(row.from, "touch a known point on the plan, or type its name");
      const metres = from === null ? null : needDecimal(row.metres, true);
      const rise = metres === null ? null : needDecimal(row.rise, false);
      if (from === null || metres === null || metres === undefined || rise === null) return null;
      ties.push({ from, distance_m: metres, ...(rise === undefined ? {} : { rise_m: rise }) });
    }
    const s = sigma();
    if (s === null) return null;
    if (!side.value()) return wrong(side, "say on which side it lies: touch the place on the plan, or choose here");
    return { by: "ties", ties: ties.map((t) => ({ ...t, sigma_mm: s })), side: side.value() };
  };
  const read = (): Record<string, unknown> | null => {
    const point = need(label, "name the point");
    if (point === null) return null;
    if (!touched.value()) return wrong(touched, "say what the tape touched: a level means another thing on the top than on the invert");
    const how = need(known, "say how it is known");
    if (how === null) return null;
    if (!way.value()) return wrong(way, "say how it was taped");
    const measured = readMeasured();
    const from = measured === null ? null : level.read();
    return measured === null || from === null ? null : { point, touched: touched.value(), known: how, measured: { ...measured, level: from } };
  };

  const work = async (): Promise<void> => {
    const body = read();
    if (body === null || key.disabled) return;
    key.disabled = true;
    outcome.idle("Working it out. Nothing is recorded.");
    try {
      const [card] = await api.tryPoints(site.id, [body]);
      outcome.idle();
      if (!card) throw new Error("the server gave no point back");
      put(result, el("h2", { tabindex: -1 }, `Where ${card.point} is`), pointAnswer(card, isOffset() ? 0 : (body["measured"] as { ties: unknown[] }).ties.length),
        recordPoint(context, body, () => {
          places.set(card.point, card.at);
          paintNames();
        }));
      // As a circle: the card gives what holds it 95 times in 100 whichever way it is off.
      plan.scene.circles = [{ at: card.at, ellipse: card.u95_h_m === null ? null : { semi_major_m: card.u95_h_m, semi_minor_m: card.u95_h_m, azimuth_deg: null }, point: card.point, doubt: card.suspect }];
      plan.draw();
      const heading = result.querySelector<HTMLElement>("h2");
      heading?.focus({ preventScroll: true });
      heading?.scrollIntoView({ block: "start" });
      context.say(card.how);
    } catch (cause) {
      outcome.failedInView(cause);
      if (cause instanceof Refused) put(result);
    } finally {
      key.disabled = false;
    }
  };

  append(page, [el("h1", {}, "A point by tape"),
    el("p", {}, "Where no instrument stands. Two distances fix it, best where they cut at a right angle; a third checks it."),
    names,
    el("form.form.set-up", { submit: (e) => { e.preventDefault(); void work(); }, input: changed, change: changed },
      el("h2", {}, "1  The point"), label.node, touched.node, known.node,
      el("h2", {}, "2  Where it lies"), way.node, inside,
      el("h2", {}, "3  How deep it lies"), level.node,
      el("div.acts", {}, key), el("p.quiet", {}, "This records nothing."), outcome.node), result]);
  void pointsOf(site.id).then(({ points }) => {
    for (const [name, at] of points) if (!places.has(name)) places.set(name, at);
    paintNames();
    plan.scene.points = [...points].map(([point, at]) => ({ point, at, chosen: null }));
    paint();
  }).catch((cause: unknown) => context.say(`Points could not be read: ${String(cause)}`));
}

function wrong(c: { wrong(text: string): void }, text: string): null {
  c.wrong(text);
  return null;
}

function tapeRow(title: string, i: number, list: string): Row {
  const from = field(title, { list, hint: i === 0 ? "Touch it on the plan, or type its name." : i === 2 ? "May be left out; nothing checks the point then." : "" });
  const metres = field("Distance", { unit: "m", mode: "decimal" });
  const rise = field("Height between its ends", { unit: "m", mode: "decimal", hint: "Blank: the tape was held level." });
  return { from, metres, rise, node: el("div.tape-row", { "data-tape": i + 1 }, el("div.pair", {}, from.node, metres.node), el("details.more", {}, el("summary", {}, "Held along a slope"), rise.node)) };
}

/** Where a tried point is: the figures large, what is doubtful, and how that came about behind a touch. */
function pointAnswer(card: PointCard, ties: number): HTMLElement {
  const checked = ties > 2 && !card.suspect && !card.doubts.some((text) => text.includes("check tie"));
  return el("div.station-answer", {},
    el("p.says", { "data-role": "point-says" }, `${levelText(card.at[0])} E, ${levelText(card.at[1])} N ${plusMinus(card.u95_h_m)} m; level ${levelText(card.at[2])} m ${plusMinus(card.u95_v_m)} m`),
    el("p.station-marks", {}, checked ? el("span.verdict", {}, "third distance agrees") : doubtWord(card.suspect ? "in doubt" : "not checked"), " ", el("span.verdict", {}, slugWords(card.known))),
    card.doubts.length > 0 && el("section", {}, el("h3", {}, "Look at these"), el("ul.plain.findings", {}, card.doubts.map((text) => el("li", { "data-severity": "doubt" }, text)))),
    el("details.more", {}, el("summary", {}, "How that comes about"), el("p", {}, `${card.how}.`), Object.entries(card.why).filter(([name]) => name !== "entry").map(([, text]) => el("p.quiet", {}, text))));
}

function recordPoint(context: Context, body: Record<string, unknown>, done: () => void): HTMLElement {
  const { site } = context;
  const by = byField();
  const outcome = new Outcome();
  const entry = new EntryId();
  const key = button(`Record ${String(body["point"])}`, () => void act(), "ink", { "data-act": "record-point" });
  const act = async (): Promise<void> => {
    const who = need(by, "the book shows who taped it");
    if (who === null || key.disabled) return;
    keepBy(who);
    key.disabled = true;
    outcome.waiting("Recording the point.");
    try {
      const [card] = await entry.send((id) => api.recordPoints(site.id, { id, points: [body], by: who }));
      done();
      await site.refresh().catch(() => undefined);
      outcome.sent(`Point ${card?.point ?? ""}. ${card?.how ?? ""}. `);
      outcome.node.append(el("div.acts", {}, el("a.door-link", { href: context.href("record/run") }, "Lay a run through it"), el("a.door-link", { href: context.href(`book/${card?.entry ?? ""}`) }, "See it in the book")));
      key.hidden = true;
    } catch (cause) {
      outcome.failed(cause);
      key.disabled = false;
    }
  };
  return el("section.record-station", {}, by.node, el("div.acts", {}, key), outcome.node);
}
