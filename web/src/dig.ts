// Planned dig: where and how deep. The answer is `dig-answer.ts`.

import { api } from "./api";
import type { Context } from "./context";
import { showAnswer } from "./dig-answer";
import { button, el, put } from "./dom";
import { byField, choice, EntryId, field, keepBy, need, needDecimal, Outcome, select } from "./form";
import { Sketch } from "./sketch";
import type { Place } from "./project";
import { nameSurface, namedSurface, surfaceOptions } from "./surface-choice";
import type { DigQuestion, Pair, Ring } from "./wire";

/** What was asked last at a site, so that going back to change it loses nothing. */
interface Draft {
  kind: string;
  places: Place[];
  width: string;
  how: string;
  depth: string;
  surface: string;
  over: string;
  setOut: string;
  batter: string;
}

const drafts = new Map<string, Draft>();

/** Opens the door. */
export function dig(context: Context): void {
  const { site } = context;
  const drawn = drafts.get(site.id);
  if ((site.map?.runs.length ?? 0) === 0 && (site.map?.searched.length ?? 0) === 0) {
    context.page.append(el("p.empty", {}, "Nothing is recorded on this site yet, so every answer will say that nothing is known. ",
      el("a", { href: context.href("record") }, "Record runs and searched areas"), " first."));
  }
  ask(context, drawn);
}

function ask(context: Context, draft: Draft | undefined): void {
  const { site, plan } = context;
  context.section(null);
  context.staff(null);
  context.planSlot(null);
  const isLine = draft?.kind === "line";
  const kind = choice("What will be dug", [{ value: "area", text: "An area" }, { value: "line", text: "A trench along a line" }, { value: "point", text: "A post or core" }], draft?.kind ?? "area");
  const width = field("Width of the trench", { unit: "m", mode: "decimal", value: draft?.kind === "line" ? draft.width : "" });
  const radius = field("Radius of the post or core", { unit: "m", mode: "decimal", value: draft?.kind === "point" ? draft.width : "" });
  const sketch = new Sketch(plan, !isLine, Number(draft?.width ?? 0) || 0);
  if (draft) sketch.set(draft.places);
  const how = choice("How deep", [{ value: "depth", text: "Depth below the surface" }, { value: "level", text: "Floor level" }], draft?.how ?? "depth");
  const depth = field("Depth", { unit: "m", mode: "decimal", value: draft?.depth ?? "" });
  const level = field("Floor level", { unit: "m", mode: "decimal", value: draft?.how === "level" ? draft.depth : "" });
  const surfaces = surfaceOptions(site.view?.surfaces ?? []);
  const surface = select("Below which surface", surfaces, {
    blank: surfaces.length === 0 ? "No surface is recorded" : "The only one that answers, if there is just one",
    hint: surfaces.length === 0 ? "Without a surface, ask by floor level." : "",
  });
  surface.input.value = draft?.surface ?? namedSurface(context) ?? "";
  surface.input.addEventListener("change", () => nameSurface(context, surface.text()));
  const over = field("Allowance for over-digging", { unit: "m", mode: "decimal", value: draft?.over ?? "", hint: "Blank: the rule set's, or a stated default." });
  const setOut = field("Allowance for setting out", { unit: "m", mode: "decimal", value: draft?.setOut ?? "" });
  const batter = field("Batter, horizontal for 1 down", { mode: "decimal", value: draft?.batter ?? "", hint: "Blank: walls stand upright." });
  const keep = el("input", { type: "checkbox" });
  const by = byField();
  by.node.hidden = true;
  keep.addEventListener("change", () => { by.node.hidden = !keep.checked; });
  const outcome = new Outcome();
  const key = button("What is there?", () => void act(), "ink", { "data-act": "dig" });

  const paintKind = (): void => {
    const line = kind.value() === "line";
    const post = kind.value() === "point";
    width.node.hidden = !line;
    radius.node.hidden = !post;
    sketch.shape(!line, line ? Number(width.text()) || 0 : 0, post);
  };
  const paintHow = (): void => {
    depth.node.hidden = how.value() === "level";
    level.node.hidden = how.value() !== "level";
  };
  kind.onChange(paintKind);
  width.input.addEventListener("input", paintKind);
  how.onChange(paintHow);

  const entry = new EntryId();
  const act = async (): Promise<void> => {
    const line = kind.value() === "line";
    const post = kind.value() === "point";
    const places = sketch.read(post ? 1 : line ? 2 : 3);
    if (!places) return;
    const w = line || post ? needDecimal(post ? radius : width, true) : undefined;
    if (w === null) return;
    const byLevel = how.value() === "level";
    const d = needDecimal(byLevel ? level : depth, true);
    if (d === null || d === undefined) return;
    const [o, s, b] = [needDecimal(over, false), needDecimal(setOut, false), needDecimal(batter, false)];
    if (o === null || s === null || b === null) return;
    let who: string | null = "";
    if (keep.checked) {
      who = need(by, "the book shows who asked");
      if (who === null) return;
      keepBy(who);
    }
    const ring: Ring = places.map((p) => [p.easting, p.northing]);
    const question: DigQuestion = {
      ...(post ? { point: ring[0] as Pair, radius_m: Number(w) } : line ? { line: ring, width_m: Number(w) } : { area: ring }),
      ...(byLevel ? { floor_level_m: Number(d) } : { depth_m: Number(d) }),
      ...(surface.text() ? { surface: surface.text() } : {}),
      ...(o === undefined ? {} : { over_dig_m: Number(o) }),
      ...(s === undefined ? {} : { set_out_m: Number(s) }),
      ...(b === undefined ? {} : { batter: Number(b) }),
      ...(keep.checked ? { keep: true, by: who } : {}),
    };
    const next: Draft = {
      kind: kind.value(), places, width: post ? radius.text() : width.text(), how: how.value(), depth: d, surface: surface.text(),
      over: over.text(), setOut: setOut.text(), batter: batter.text(),
    };
    drafts.set(site.id, next);
    key.disabled = true;
    outcome.idle("Asking.");
    try {
      const answer = await (keep.checked ? entry.send((id) => api.dig(site.id, { ...question, id })) : api.dig(site.id, question));
      plan.reset();
      put(context.page);
      showAnswer(context, question, answer, () => {
        plan.reset();
        put(context.page);
        ask(context, next);
      });
      const heading = context.page.querySelector<HTMLElement>("h1");
      if (heading) heading.tabIndex = -1;
      heading?.focus({ preventScroll: true });
      context.page.scrollTop = 0;
      scrollTo(0, 0);
      context.say(answer.says);
    } catch (cause) {
      key.disabled = false;
      outcome.failedInView(cause);
    }
  };

  context.page.append(el("h1", {}, "Planned dig"),
    el("form.form", { submit: (e) => { e.preventDefault(); void act(); } },
      kind.node, sketch.node, width.node, radius.node, how.node, depth.node, level.node, surface.node,
      el("details.more", {}, el("summary", {}, "Allowances, batter, and keeping the answer"),
        over.node, setOut.node, batter.node,
        el("label.choice-item", {}, keep, el("span", {}, "Keep question and answer in the book")), by.node),
      el("div.acts", {}, key), outcome.node));
  paintKind();
  paintHow();
}
