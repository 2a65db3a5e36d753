// A run's card: every point and leg, and how each figure came about. Plan, section and staff show the same place.

import type { Context } from "./context";
import { append, button, el, put, type Child } from "./dom";
import { coverText, depthText, dateWords, deepText, ellipseWords, levelText, plusMinus, slugWords } from "./format";
import { atChainage, nearestOnLine } from "./project";
import { standStaff } from "./probe";
import { drawSection } from "./section";
import { service } from "./services";
import { doubtWord } from "./station-answer";
import { bowWords, unshotNote } from "./unshot";
import { namedSurface, surfaceField, surfaceOpen, surfaceOptions } from "./surface-choice";
import { drawStaff, staffHeight } from "./staff";
import type { RunCard, RunCardVertex } from "./wire";

/** Opens the card of the run named in the address. */
export function runCard(context: Context): void {
  const { site, page, plan } = context;
  const name = context.rest.join("/");
  const body = el("div");
  const several = surfaceOptions(site.view?.surfaces ?? []).length > 1;
  const surface = surfaceField(context, "Name a surface to give depths", () => void load());
  append(page, [el("a.back", { href: context.href("cover") }, "Before cover"), body]);
  let first = true;
  const load = async (): Promise<void> => {
    try {
      const card = await site.card(name, namedSurface(context));
      put(body, show(context, card, several ? surface.node : null, first));
      if (first) {
        const heading = body.querySelector<HTMLElement>("h1");
        if (heading) heading.tabIndex = -1;
        heading?.focus({ preventScroll: true });
      }
      first = false;
    } catch (cause) {
      put(body, el("h1", {}, name), several && surface.node, el("p.refused", {}, cause instanceof Error ? cause.message : String(cause)), button("Ask again", () => void load()));
    }
  };
  plan.light([name]);
  context.onLeave(site.onChange((what) => {
    if (what === "view") void load();
  }));
  void load();
}

function show(context: Context, card: RunCard, surface: HTMLElement | null, fit: boolean): HTMLElement {
  const whyNot = (why: string | undefined): string => (surfaceOpen(context) ? "no surface named" : why ?? "not known");
  const { plan, site } = context;
  const seen = card.known === "seen" || card.known === "seen-checked";
  const s = service(card.service);
  const table = el("tbody", { role: "rowgroup" });
  const inverts = card.vertices.some((v) => v.invert_level_m !== null);
  const stand = (k: number): void => {
    const v = card.vertices[k];
    if (!v) return;
    plan.mark({ easting: v.axis[0], northing: v.axis[1] });
    context.staff(staffAt(card, v, k, stand, whyNot(v.why["cover_m"])));
    for (const row of table.querySelectorAll("tr")) row.toggleAttribute("data-lit", row.dataset["k"] === String(k));
  };
  const nearestVertex = (chainage: number): number => {
    let best = 0;
    card.vertices.forEach((v, i) => {
      if (Math.abs(v.chainage_m - chainage) < Math.abs((card.vertices[best] as RunCardVertex).chainage_m - chainage)) best = i;
    });
    return best;
  };
  const line = card.vertices.map((v) => v.axis);
  plan.onTap = (place, reach) => {
    const on = nearestOnLine(line, place);
    if (on && on.distance <= Math.max(reach, card.outside_m / 2)) {
      stand(nearestVertex(on.chainage));
      return;
    }
    const hit = plan.scene.index?.hits(place, reach)[0];
    if (hit) context.go(`run/${encodeURIComponent(hit.run.run)}`);
    else void standStaff(context, place);
  };
  const pieces: [number, number][][] = [[]];
  for (const v of card.vertices) {
    if (v.surface_level_m === null) pieces.push([]);
    else (pieces.at(-1) as [number, number][]).push([v.chainage_m, v.surface_level_m]);
  }
  const to = Math.max(...card.vertices.map((v) => v.chainage_m), 0.5);
  context.section(drawSection({
    title: `Looking along ${card.run}`, along: "Chainage in metres", from: 0, to,
    surface: pieces.filter((p) => p.length > 1), surfaceBand: null, floor: null,
    lines: [{
      key: card.run, tag: card.letters, slug: card.service, size: card.outside_m, seen,
      line: card.vertices.map((v) => [v.chainage_m, v.top_level_m]),
      u95: card.vertices.map((v) => v.u95_v_m), band: bandOf(card), labels: card.vertices.map((v) => (doubtsOf(v).length > 0 ? `${v.point} in doubt` : v.point)),
    }],
  }, (chainage) => {
    const at = atChainage(line, chainage);
    if (at) stand(nearestVertex(chainage));
  }));
  put(table, card.vertices.map((v, k) => el("tr", { "data-k": k, role: "row" },
    cell("", "", button(v.point, () => {
      stand(k);
      // In one column the staff stands above the list: go to it.
      if (innerWidth < 1100) document.querySelector(".staff")?.scrollIntoView({ block: "start" });
    }, "point"), el("span.row-small", {}, `${slugWords(v.touched)}, ${slugWords(v.known)}`), doubtsOf(v).length > 0 && doubtWord()),
    cell("n", "Chainage m", levelText(v.chainage_m)),
    cell("n", "Top m", levelText(v.top_level_m), el("span.row-small", {}, plusMinus(v.u95_v_m), v.u95_assumed && v.u95_v_m !== null && assumedMark("This uncertainty is the default of its class: nobody stated it for the point."))),
    inverts && cell("n", "Invert m", v.invert_level_m === null ? el("span.row-small", {}, v.why["invert_level_m"] ?? "not known") : [levelText(v.invert_level_m), el("span.row-small", {}, plusMinus(v.u95_v_m))]),
    cell("n", "Cover m", v.cover_m === null ? el("span.row-small", {}, whyNot(v.why["cover_m"])) : [coverText(v.cover_m), el("span.row-small", {}, plusMinus(v.cover_u95_m))]))));
  plan.scene.circles = card.vertices.map((v) => ({ at: v.axis, ellipse: v.ellipse ?? null, point: v.point, doubt: doubtsOf(v).length > 0 }));
  plan.draw();
  stand(0);
  // Section and staff have taken their room by the next frame: fit what is left.
  if (fit) requestAnimationFrame(() => plan.fitPlaces(line, 84));
  return el("div", {},
    el("h1", {}, el("span.tag", {}, card.letters), " ", el("span", { "data-role": "run-name" }, card.run)),
    el("dl.facts", {},
      el("dt", {}, "Carries"), el("dd", {}, s.name),
      el("dt", {}, "Section"), el("dd", {}, card.section, card.section_assumed && assumedMark("The outside size was taken from the nominal size, which is a name and not a measurement.")),
      el("dt", {}, "Length in plan"), el("dd", {}, `${levelText(card.length_m)} m`),
      el("dt", {}, "Known"), el("dd", {}, slugWords(card.known)),
      el("dt", {}, "Status"), el("dd", {}, card.status === "abandoned" ? "abandoned: treat as live" : slugWords(card.status)),
      el("dt", {}, "Ends"), el("dd", {}, `${slugWords(card.ends[0])}; ${slugWords(card.ends[1])}`),
      card.owner !== null && [el("dt", {}, "Owner"), el("dd", {}, card.owner)],
      card.note !== null && [el("dt", {}, "Note"), el("dd", {}, card.note)],
      el("dt", {}, "Between points"), el("dd", {}, bowWords(card.bow_m, card.why["bow_m"])),
      el("dt", {}, "Depths below"), el("dd", {}, card.below ?? whyNot(card.why["below"])),
      el("dt", {}, "In the book"), el("dd", {}, card.entries.map((n, i) => [i > 0 && ", ", el("a", { href: context.href(`book/${n}`) }, `entry ${n}`)]))),
    surface,
    doubtful(card),
    card.findings.map((text) => el("p.caution", {}, text)),
    card.releases.map((text) => el("p.quiet", { "data-role": "release" }, `Hold point: ${text}.`)),
    el("h2", {}, "Points"),
    el("p.quiet", {}, "Touch a point to stand the staff there."),
    el("div.scroll-x", { tabindex: 0, role: "region", "aria-label": "Points" }, el("table.stack", { role: "table" },
      el("thead", {}, el("tr", {}, el("th", {}, "Point"), el("th.n", {}, "Chainage m"), el("th.n", {}, "Top m"), inverts && el("th.n", {}, "Invert m"), el("th.n", {}, "Cover m"))),
      table)),
    el("h2", {}, "Legs"),
    el("div.scroll-x", { tabindex: 0, role: "region", "aria-label": "Legs" }, el("table.stack", { role: "table" },
      el("thead", {}, el("tr", {}, el("th", {}, "Leg"), el("th.n", {}, "Length m"), el("th.n", {}, "Least cover m"), el("th.n", {}, "At worst m"), el("th", {}, "Fall"), el("th", {}, "Cover"))),
      el("tbody", { role: "rowgroup" }, card.legs.map((l) => el("tr", { role: "row" },
        cell("", "", `${l.from} to ${l.to}`, el("span.row-small", {}, slugWords(l.known), l.riser && ", riser"), unshotNote(l)),
        cell("n", "Length m", levelText(l.length_m)),
        cell("n", "Least cover m", l.least_cover_m === null ? el("span.row-small", {}, whyNot(l.why["least_cover_m"])) : coverText(l.least_cover_m)),
        cell("n", "At worst m", l.worst_cover_m === null ? el("span.row-small", {}, whyNot(l.why["worst_cover_m"])) : coverText(l.worst_cover_m)),
        cell("", "Fall", l.fall?.says ?? ""),
        cell("", "Cover", el("span.verdict", { "data-verdict": l.cover_verdict }, slugWords(l.cover_verdict)))))))),
    el("p.quiet", {}, `Site ${site.view?.name ?? ""}.`));
}

/** A cell that carries its column's name, for a phone, where a row is written one figure to a line. */
const cell = (kind: "" | "n", column: string, ...inside: Child[]): HTMLElement =>
  el(kind === "n" ? "td.n" : "td", { role: "cell", "data-column": column }, ...inside);

// A server of an earlier version sends none.
const doubtsOf = (v: RunCardVertex): string[] => v.doubts ?? [];

/** The 95 % in level along the run: each leg wider, right after its points, by what was not shot of it. */
function bandOf(card: RunCard): [number, number, number | null][] {
  const band: [number, number, number | null][] = [];
  card.vertices.forEach((v, i) => {
    band.push([v.chainage_m, v.top_level_m, v.u95_v_m]);
    const [leg, next] = [card.legs[i], card.vertices[i + 1]];
    if (!leg || !next || leg.unshot_m === 0) return;
    for (const share of [0.02, 0.98]) {
      const mix = (a: number, b: number): number => a + (b - a) * share;
      const own = v.u95_v_m === null || next.u95_v_m === null ? null : mix(v.u95_v_m, next.u95_v_m);
      const wide = own === null || leg.unshot_m === null ? null : own + (leg.unshot_m ?? 0);
      band.push([mix(v.chainage_m, next.chainage_m), mix(v.top_level_m, next.top_level_m), wide]);
    }
  });
  return band;
}

/** What is doubtful about where the points are: each sentence once, with the points it is about. */
function doubtful(card: RunCard): HTMLElement | null {
  const about = new Map<string, string[]>();
  for (const v of card.vertices) for (const text of doubtsOf(v)) about.set(text, [...(about.get(text) ?? []), v.point]);
  if (about.size === 0) return null;
  return el("section.in-doubt", { "data-role": "doubts" }, el("h2", {}, doubtWord("In doubt")), el("ul.plain", {},
    [...about].map(([text, points]) => el("li", {}, el("strong", {}, `${points.join(", ")}: `), text))));
}

/** A mark on a figure that hangs on an assumption; it opens the assumption. */
function assumedMark(text: string): HTMLElement {
  const note = el("span.row-small", { hidden: true }, text);
  return el("span", {}, button("assumed", () => { note.hidden = !note.hidden; }, "assumed", { "aria-label": "Assumed: show what" }), note);
}

function staffAt(card: RunCard, v: RunCardVertex, k: number, stand: (k: number) => void, whyNot: string): HTMLElement {
  return el("div", { "data-role": "staff" },
    el("div.staff-head", {},
      el("h2", {}, `Staff at ${v.point}`),
      el("p", {}, `${levelText(v.axis[0])} E, ${levelText(v.axis[1])} N, chainage ${levelText(v.chainage_m)} m`),
      el("p", { "data-role": "ellipse" }, `In plan ${ellipseWords(v.ellipse ?? null)}`, v.u95_assumed && ", assumed")),
    drawStaff({
      surface: v.surface_level_m === null ? null : { min: v.surface_level_m, max: v.surface_level_m, text: card.below ?? "" },
      floor: null,
      marks: [{
        key: card.run, tag: card.letters, slug: card.service, low: v.top_level_m, high: v.top_level_m, u95: v.u95_v_m,
        size: card.outside_m, zone: null, seen: v.known === "seen" || v.known === "seen-checked",
        row: [
          el("span.row-head", {}, el("span.tag", {}, card.letters), el("span.row-name", {}, "top outside")),
          el("span.row-figures", {},
            el("span.deep", {}, v.cover_m === null ? "depth not known" : `${depthText(v.cover_m)[0]} m`),
            v.cover_m !== null && el("span.row-small", {}, `${depthText(v.cover_m)[1]} ${plusMinus(v.cover_u95_m)}`)),
          el("span.level", {}, `${levelText(v.top_level_m)} m `, el("span.row-small", {}, plusMinus(v.u95_v_m))),
          v.invert_level_m !== null && el("span.row-small", {}, `invert ${levelText(v.invert_level_m)} m${v.depth_to_invert_m === null ? "" : `, ${deepText(v.depth_to_invert_m)} m deep`}`),
          v.cover_m === null && el("span.row-small", {}, whyNot),
          doubtsOf(v).length > 0 && doubtWord(),
        ],
      }],
    }, staffHeight(0.5), () => undefined),
    doubtsOf(v).map((text) => el("p.caution", {}, text)),
    el("div.acts", {},
      button("Back a point", () => stand(k - 1), "plain", { disabled: k === 0 }),
      button("Next point", () => stand(k + 1), "plain", { disabled: k === card.vertices.length - 1 })),
    el("div.staff-head", {},
      el("p", {}, `Measured ${v.measured.join(", ")} on the ${slugWords(v.touched)}, ${dateWords(v.observed_at)}, by ${v.by}, entry ${v.entry}.`),
      v.how !== "" && el("p.row-small", { "data-role": "how" }, `${v.how}.`)));
}
