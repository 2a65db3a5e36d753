// The answer to a dig, read from the top down: what is not known, the order in which the bucket meets things, the
// plan with the same letters, how it is known.

import { api } from "./api";
import type { Context } from "./context";
import { append, button, el, figure, type Child } from "./dom";
import { EntryId, field, Outcome } from "./form";
import {
  count, coverText, dateWords, deepText, depthText, headShort, levelText, metFromDepth, metFromLevel, percentText, plusMinus,
  signedText, slugWords,
} from "./format";
import { longestSide, onAxis } from "./project";
import { drawSection, type SectionLine } from "./section";
import { service } from "./services";
import { doubtWord } from "./station-answer";
import { drawStaff, type StaffMark } from "./staff";
import type { DigAnswer, DigQuestion, DigRun, DigVerdict } from "./wire";

/** The words of a verdict; none of them says that digging is allowed. */
export const VERDICT_WORDS: Record<DigVerdict, string> = {
  "in-the-way": "in the way", "hand-dig": "hands only", near: "near", "not-placed": "not placed", beyond: "farther off",
};

/** A run of an answer with the number and letters it carries in all views. */
export interface Numbered {
  run: DigRun;
  tag: string;
}

// A level without uncertainty stands where it was measured; the figure above the staff says that it may lie higher.
const mayReach = (r: DigRun): number => r.top_level_m.max + (r.u95_v_m ?? 0);

/** The runs that the staff shows, in the order the bucket meets them, and the rest. */
export function inOrder(answer: DigAnswer): { met: Numbered[]; rest: DigRun[] } {
  const near = answer.runs.filter((r) => (r.verdict === null ? r.part.length > 0 : r.verdict !== "beyond"));
  const rest = answer.runs.filter((r) => !near.includes(r));
  const met = [...near].sort((a, b) => mayReach(b) - mayReach(a) || b.top_level_m.max - a.top_level_m.max)
    .map((run, i) => ({ run, tag: `${i + 1} ${run.letters}` }));
  return { met, rest };
}

const isSeen = (run: DigRun): boolean => run.known === "seen" || run.known === "seen-checked";
const handsOnly = (run: DigRun): boolean => run.verdict === "in-the-way" || run.verdict === "hand-dig";

/** Shows an answer in all views. */
export function showAnswer(context: Context, question: DigQuestion, answer: DigAnswer, change: () => void): void {
  const { page, plan } = context;
  const { met, rest } = inOrder(answer);
  const slot = el("div");

  const light = (key: string | null): void => {
    plan.light(key === null ? [] : [key]);
    for (const row of page.querySelectorAll<HTMLElement>(".staff-row")) {
      row.querySelector(".row-button")?.toggleAttribute("data-lit", row.dataset["run"] === key);
    }
    for (const part of document.querySelectorAll<SVGElement>(".section-svg [data-key]")) {
      part.toggleAttribute("data-lit", part.dataset["key"] === key);
    }
  };

  append(page, [
    button("Change the question", change, "word"),
    el("h1.says", { "data-role": "says" }, answer.says),
    shareBar(answer),
    firstMet(answer, met),
    el("h2", {}, met.length > 0 ? "In the order the bucket meets them" : "On the staff"),
    drawStaff({
      surface: answer.dig.surface_levels_m && { ...answer.dig.surface_levels_m, text: answer.dig.surface ?? "" },
      floor: answer.dig.floor_levels_m && { ...answer.dig.floor_levels_m, text: levelText(answer.dig.floor_levels_m.min) },
      marks: met.map((m) => mark(m, answer, (context.site.map?.runs.find((r) => r.run === m.run.run)?.doubts ?? []).length > 0)),
    }, Math.max(300, Math.min(innerHeight * 0.56, 560)), light),
    floorWords(answer, met),
    rest.length > 0 && farther(rest),
    slot,
    sheetKeys(context, question),
    howKnown(answer, met),
    cautions(answer.cautions),
    el("p.quiet", {}, `Answered from the book at ${headShort(answer.head)}, for the ground as at ${dateWords(answer.as_at)}.`),
  ]);

  plan.scene.dig = {
    plan: answer.dig.plan,
    unsearched: answer.searched.unsearched,
    numbers: met.flatMap((m) => {
      const at = m.run.at["worst_gap_m"] ?? m.run.at["gap_m"] ?? Object.values(m.run.at)[0];
      const on = at?.on_run ?? m.run.part[0]?.line[0];
      return on ? [{ at: [on[0], on[1]] as [number, number], text: m.tag }] : [];
    }),
  };
  plan.onTap = (place, reach) => {
    const hit = plan.scene.index?.hits(place, reach)[0];
    light(hit?.run.run ?? null);
    const row = [...page.querySelectorAll<HTMLElement>(".staff-row")].find((r) => r.dataset["run"] === hit?.run.run);
    row?.scrollIntoView({ block: "nearest" });
  };
  context.section(section(answer, met, (key) => light(key)));
  context.planSlot(slot);
  const fit = (): void => plan.fitPlaces((answer.dig.plan[0] ?? []).concat(answer.dig.line ?? []), 90);
  fit();
  requestAnimationFrame(fit);
}

function shareBar(answer: DigAnswer): HTMLElement {
  const { share } = answer.searched;
  const known = el("span.share-known");
  known.style.width = `${share}%`;
  return el("div.share", {},
    el("div.share-bar", { role: "img", "aria-label": `${percentText(share)} of this dig was searched; the rest is not recorded` }, known),
    el("div.share-words", {}, el("span", {}, `searched ${percentText(share)}`), el("span", {}, share < 100 ? "hatched: never searched" : "")));
}

/** The figure that a person with a machine came for. */
function firstMet(answer: DigAnswer, met: Numbered[]): HTMLElement {
  const hands = met.filter((m) => handsOnly(m.run));
  // Inside: the dig reaches it in plan, or may at 95 %, or nobody can tell.
  const inside = met.filter((m) => m.run.worst_horizontal_gap_m === null || m.run.worst_horizontal_gap_m <= 0);
  const candidates = hands.length > 0 ? hands : inside;
  const only = answer.searched.share === 0 ? "Nobody has searched here, so that says nothing about what lies there."
    : `That speaks for the ${percentText(answer.searched.share)} that was searched, to the depth it was searched, and for nothing else.`;
  if (candidates.length === 0) {
    const [aside] = [...met].sort((p, q) => (p.run.worst_horizontal_gap_m ?? 0) - (q.run.worst_horizontal_gap_m ?? 0));
    return el("div.first-met", { "data-role": "first-met" },
      el("p.what", {}, aside ? `No recorded service inside this dig. ${aside.tag} lies aside of it by` : "No recorded service near this dig."),
      aside && el("span.big", {}, figure(coverText(aside.run.worst_horizontal_gap_m ?? 0), "m")),
      aside && el("p.below", {}, "in plan, at worst, at 95 %."),
      el("p.below", {}, only));
  }
  const depths = candidates.map((m) => ({ m, depth: metFromDepth(m.run.cover_m.min, m.run.u95_v_m, answer.dig.surface_u95_m) }));
  const known = depths.filter((d): d is { m: Numbered; depth: number } => d.depth !== null);
  const unknown = depths.filter((d) => d.depth === null);
  const first = known.sort((a, b) => a.depth - b.depth)[0];
  const level = first ? metFromLevel(first.m.run.top_level_m.max, first.m.run.u95_v_m) : null;
  const zone = hands.map((m) => m.run.rule?.minimum ?? null).filter((v): v is number => v !== null).sort((a, b) => b - a)[0];
  return el("div.first-met", { "data-role": "first-met" },
    el("p.what", {}, first === undefined ? "How deep the first service lies is not known"
      : first.depth < 0 ? `${first.m.tag} may stand above the surface by` : `${first.m.tag} may be met from`),
    first ? el("span.big", {}, figure(depthText(first.depth)[0], "m")) : el("span.big", {}, "not known"),
    el("p.below", {},
      first && answer.dig.surface ? `${first.depth < 0 ? "above" : "below"} ${answer.dig.surface}` : "",
      first && level !== null ? `, at level ${levelText(level)} m. Least cover with both uncertainties at 95 % taken off.` : "",
      unknown.length > 0 && ` ${unknown.map((u) => u.m.tag).join(", ")}: ${whyDepth(unknown[0]?.m.run, answer)}, so it may lie higher.`),
    hands.length > 0
      ? el("p.hands", {}, `No machine near ${hands.map((h) => h.tag).join(", ")}: expose by hand or vacuum first${zone === undefined ? "" : `, within ${deepText(zone)} m of ${hands.length === 1 ? "its" : "each"} outside at 95 %, the band drawn around it`}.`)
      : answer.rules === null ? el("p.hands", {}, "Zone not set: no rule set is adopted, so where the machine stops is not stated.") : null);
}

function whyDepth(run: DigRun | undefined, answer: DigAnswer): string {
  if (!run) return "not known";
  if (run.cover_m.min === null) return run.why["cover_m"] ?? run.why["cover_m.min"] ?? run.why["min"] ?? "its cover is not known";
  if (run.u95_v_m === null) return run.why["u95_v_m"] ?? "its uncertainty in level is not known";
  return answer.dig.why["surface_u95_m"] ?? "the uncertainty of the surface is not stated";
}

function mark(m: Numbered, answer: DigAnswer, doubt: boolean): StaffMark {
  const { run } = m;
  const cover = run.cover_m;
  const from = metFromDepth(cover.min, run.u95_v_m, answer.dig.surface_u95_m);
  const outside = run.horizontal_gap_m > 0;
  const row: Child[] = [
    el("span.row-head", {},
      el("span.tag", {}, m.tag),
      el("span.row-name", {}, run.run),
      run.verdict && el("span.verdict", { "data-verdict": run.verdict }, VERDICT_WORDS[run.verdict]),
      doubt && run.site === answer.site && doubtWord(),
      run.status !== "in-use" && el("span.verdict", { "data-verdict": "near" }, run.status === "abandoned" ? "abandoned: treat as live" : slugWords(run.status))),
    el("span.row-figures", {},
      el("span.deep", {}, cover.min === null ? "depth not known" : figure(depthText(cover.min)[0], `m ${depthText(cover.min)[1]}`)),
      el("span.level", {}, figure(levelText(run.top_level_m.max), "m"), " ", el("span.pm", {}, plusMinus(run.u95_v_m)))),
    el("span.row-small", {},
      run.site === answer.site ? "" : `recorded at ${run.site}: `,
      `${service(run.service).name}, top outside`,
      cover.min !== null && cover.max !== null && cover.max - cover.min > 0.0005 ? `, deepest ${deepText(cover.max)} m` : "",
      from === null ? "" : `, met from ${depthText(from)[0]} m ${depthText(from)[1]}`,
      outside ? `. In plan ${coverText(run.horizontal_gap_m)} m outside the dig${run.worst_horizontal_gap_m === null ? "" : `, at worst ${coverText(run.worst_horizontal_gap_m)} m`}` : "",
      run.vertical_gap_m !== null && run.vertical_gap_m > 0 ? `. ${coverText(run.vertical_gap_m)} m under the floor` : ""),
  ];
  return {
    key: run.run, tag: m.tag, slug: run.service, low: run.top_level_m.min, high: run.top_level_m.max,
    u95: run.u95_v_m, size: run.outside_m, zone: handsOnly(run) ? run.rule?.minimum ?? null : null, seen: isSeen(run), row,
  };
}

function floorWords(answer: DigAnswer, met: Numbered[]): HTMLElement {
  const { dig } = answer;
  const floor = dig.floor_levels_m;
  const text = floor === null ? `Level of the floor not known: ${dig.why["floor_levels_m"] ?? "no surface"}.`
    : floor.max - floor.min > 0.0005 ? `Floor of the dig from ${levelText(floor.min)} to ${levelText(floor.max)} m.` : `Floor of the dig at ${levelText(floor.min)} m.`;
  return el("p.staff-floor-word", {}, text,
    dig.surface === null ? ` Depths are not given: ${dig.why["surface"] ?? "no surface was named"}.` : ` Depths are below ${dig.surface} ${plusMinus(dig.surface_u95_m)} m.`,
    ` Allowed for over-digging ${levelText(dig.over_dig_m)} m and setting out ${levelText(dig.set_out_m)} m`,
    dig.allowances_assumed ? " (assumed: no rule or person gave them)." : ".",
    met.some((m) => handsOnly(m.run) && m.run.rule?.minimum) ? " The red band is the hand zone, drawn by level only; the rule may ask for it at every depth." : "",
    answer.floor_unknown_area_m2 > 0 && el("strong", {}, ` Under ${deepText(answer.floor_unknown_area_m2)} m\u00b2 the floor is not known: the surface does not reach there.`));
}

function farther(rest: DigRun[]): HTMLElement {
  return el("section", {}, el("h2", {}, "Farther off"),
    el("ul.plain", {}, rest.map((r) => el("li.legend-row", {}, el("span.tag", {}, r.letters),
      el("span", {}, el("strong", {}, r.run), `: ${r.says || `recorded, ${coverText(r.worst_gap_m ?? r.gap_m)} m away`}`)))));
}

function sheetKeys(context: Context, question: DigQuestion): HTMLElement {
  const outcome = new Outcome();
  const emergency = field("Emergency services, as dialled here", { hint: "Printed on the sheet. Blank rather than guessed." });
  const recheck = field("Ask again by", { mode: "date", hint: "Printed on the sheet." });
  const by = field("Issued by", { hint: "With a name here the sheet is entered in the book and kept." });
  const make = async (paper: string, key: HTMLButtonElement, entry: EntryId): Promise<void> => {
    key.disabled = true;
    outcome.idle(`Laying out the dig plan on ${paper}.`);
    try {
      const { keep: _keep, by: _by, id: _id, ...plain } = question;
      const more: Record<string, string> = {};
      if (emergency.text()) more["emergency"] = emergency.text();
      if (recheck.text()) more["recheck_by"] = recheck.text();
      if (by.text()) more["by"] = by.text();
      // Only an issued sheet is an entry; another paper is another sheet.
      const blob = await (by.text() ? entry.send((id) => api.sheet(context.site.id, paper, plain, { ...more, id })) : api.sheet(context.site.id, paper, plain, more));
      const url = URL.createObjectURL(blob);
      el("a", { href: url, download: `dig-plan-${paper}.pdf` }).click();
      setTimeout(() => URL.revokeObjectURL(url), 60_000);
      outcome.idle(`Dig plan on ${paper} handed to the browser's downloads.`);
    } catch (cause) {
      outcome.failed(cause);
    }
    key.disabled = false;
  };
  const keys = ["A4", "A3", "Letter"].map((paper) => {
    const entry = new EntryId();
    const key: HTMLButtonElement = button(paper, () => void make(paper, key, entry), "plain", { "aria-label": `Dig plan as PDF on ${paper}` });
    return key;
  });
  return el("section", {}, el("h2", {}, "Dig plan on paper"), el("div.acts", {}, keys), outcome.node,
    el("details.more", {}, el("summary", {}, "What the sheet says besides"), emergency.node, recheck.node, by.node));
}

function howKnown(answer: DigAnswer, met: Numbered[]): HTMLElement {
  const { searched } = answer;
  return el("section", {},
    met.length > 0 && el("h2", {}, "How it is known"),
    el("dl.known-list", {}, met.map(({ run, tag }) => [
      el("dt", {}, el("span.tag", {}, tag), run.run),
      el("dd", {}, run.says),
      el("dd", {}, `${slugWords(run.known)}, measured ${dateWords(run.observed_at)}. ${run.section}. In plan ${plusMinus(run.u95_h_m)} m, in level ${plusMinus(run.u95_v_m)} m.`),
      el("dd", {}, `Gap ${coverText(run.gap_m)} m, at worst ${run.worst_gap_m === null ? "not known" : `${coverText(run.worst_gap_m)} m`}`,
        run.vertical_gap_m === null ? "" : `; ground left between floor and outside top ${signedText(run.vertical_gap_m)} m`,
        run.worst_vertical_gap_m === null ? "" : `, at worst ${signedText(run.worst_vertical_gap_m)} m`, "."),
      run.rule && el("dd", {}, `Rule: ${run.rule.id ?? "none"}${run.rule.minimum === null ? "" : `, ${deepText(run.rule.minimum)} m`}. ${run.rule.source}. ${run.rule.status}.`),
      run.cautions.map((text) => el("dd.caution", {}, text)),
      el("dd", {}, Object.entries(run.why).map(([name, why]) => `${fieldWords(name)}: ${why}. `).join("")),
    ])),
    el("h2", {}, "Where somebody looked"),
    Object.keys(searched.by_service).length === 0
      ? el("p", {}, "Nowhere in this dig, as far as the book knows.")
      : el("div.scroll-x", {}, el("table", {}, el("thead", {}, el("tr", {}, el("th", {}, "Service"), el("th.n", {}, "Searched"), el("th", {}, "Oldest search"))),
        el("tbody", {}, Object.entries(searched.by_service).map(([slug, s]) => el("tr", {},
          el("td", {}, `${service(slug).letters} ${service(slug).name}`, s.says.map((text) => el("span.row-small", {}, text))),
          el("td.n", {}, percentText(s.share)), el("td", {}, s.oldest ? dateWords(s.oldest) : "none")))))),
    searched.not_counted.map((text) => el("p.caution", {}, text)),
    answer.not_compared.length > 0 && [el("h2", {}, `${count(answer.not_compared.length, "site")} not asked`),
      answer.not_compared.map((n) => el("p", {}, `${n.site}: ${n.why}`))],
    el("h2", {}, "Rules"),
    el("p", {}, answer.rules === null ? `No rule set is adopted, so no run is judged: they come nearest first. ${answer.why["rules"] ?? ""}` : `${answer.rules.title}: ${answer.rules.says}`));
}

const fieldWords = (name: string): string => slugWords(name.replace(/_m$/, "").replaceAll("_", " "));

/** Cautions, numbered, in the order they are to be read aloud. */
export function cautions(list: readonly string[]): HTMLElement | null {
  return list.length === 0 ? null : el("section", {}, el("h2", {}, "Read these aloud"), el("ol.cautions", {}, list.map((text) => el("li", {}, text))));
}

function section(answer: DigAnswer, met: Numbered[], pick: (key: string | null) => void): HTMLElement | null {
  const ring = answer.dig.line ?? answer.dig.plan[0] ?? [];
  const axis = longestSide(ring, answer.dig.line === null);
  if (!axis) return null;
  const along = (at: readonly number[]): number => onAxis(axis, { easting: at[0] as number, northing: at[1] as number }).along;
  const corners = (answer.dig.plan[0] ?? ring).map(along);
  const from = Math.min(...corners);
  const to = Math.max(...corners);
  const lines: SectionLine[] = met.flatMap(({ run, tag }) => run.part.map((part, i) => ({
    key: run.run, tag: i === 0 ? tag : "", slug: run.service, size: run.outside_m, seen: isSeen(run),
    line: part.line.map((at): [number, number] => [along(at), at[2]]),
    u95: part.line.map(() => run.u95_v_m), labels: [],
  })));
  const reach = lines.flatMap((l) => l.line.map((p) => p[0]));
  return drawSection({
    title: "Looking along the dig",
    along: "Metres along its longest side",
    from: Math.max(Math.min(from, ...reach), from - 4) - 0.3, to: Math.min(Math.max(to, ...reach), to + 4) + 0.3,
    surface: [], surfaceBand: answer.dig.surface_levels_m,
    floor: answer.dig.floor_levels_m && { ...answer.dig.floor_levels_m, from, to },
    lines,
  }, (_, key) => pick(key));
}
