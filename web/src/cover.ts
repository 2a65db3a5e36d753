// Before cover: what is met, short, not proved, missing, leg by leg, and by which rule.

import { api } from "./api";
import { bowWords, unshotNote } from "./unshot";
import type { Context } from "./context";
import { cautions } from "./dig-answer";
import { append, button, el, put } from "./dom";
import { count, coverText, deepText, headShort, levelText, plusMinus, slugWords } from "./format";
import { hold } from "./hold";
import { standStaff } from "./probe";
import { separation } from "./separation";
import { service } from "./services";
import { doubtWord } from "./station-answer";
import { namedSurface, surfaceField, surfaceOpen, surfaceOptions, surfaceQuestion } from "./surface-choice";
import type { CheckVerdict, CoverAnswer, CoverLeg, CoverRun, FallView, InvertRow } from "./wire";

/** Opens the door. */
export function cover(context: Context): void {
  const { site, plan, page } = context;
  if (context.rest[0] === "hold") {
    hold(context);
    return;
  }
  const answerAt = el("div", { "aria-live": "polite" });
  const chooser = el("div");
  const doubts = el("div");
  const load = async (): Promise<void> => {
    put(doubts, suspects(context));
    const several = surfaceOptions(site.view?.surfaces ?? []).length > 1;
    if (surfaceOpen(context)) {
      put(chooser);
      put(answerAt, surfaceQuestion(context, () => void load()));
      return;
    }
    put(chooser, several && surfaceField(context, "Not named", () => void load()).node);
    if (answerAt.childElementCount === 0 || answerAt.querySelector(".surface-question")) put(answerAt, el("p.quiet", {}, "Working it out."));
    try {
      const answer = await api.cover(site.id, namedSurface(context));
      put(answerAt, show(context, answer));
      context.say(answer.says);
    } catch (cause) {
      put(answerAt, el("p.refused", {}, cause instanceof Error ? cause.message : String(cause)), button("Ask again", () => void load()));
    }
  };
  append(page, [el("h1", {}, "Before cover"),
    el("p", {}, el("a.door-link", { href: context.href("cover/hold") }, "Hold point: can it be covered?")), doubts, chooser, answerAt]);
  plan.onTap = (place, reach) => {
    const hit = plan.scene.index?.hits(place, reach)[0];
    if (hit) context.go(`run/${encodeURIComponent(hit.run.run)}`);
    else void standStaff(context, place);
  };
  context.onLeave(site.onChange((what) => {
    if (what === "view") void load();
  }));
  void load();
}

const word = (v: CheckVerdict): HTMLElement => el("span.verdict", { "data-verdict": v }, slugWords(v));

const tally = (many: number, text: string): HTMLElement => el("div", {}, el("span.many", {}, many), el("span.word", {}, text));

function show(context: Context, answer: CoverAnswer): HTMLElement {
  const s = answer.summary;
  return el("div", {},
    el("p.says", { "data-role": "says" }, answer.says),
    el("div.summary", {}, tally(s.short, "short"), tally(s.missing, "missing"), tally(s.not_proved, "not proved"), tally(s.met, "met")),
    answer.below === null ? el("p.caution", {}, `No cover can be given: ${answer.why["below"] ?? "no surface is recorded"}. `, el("a", { href: context.href("record/surface") }, "Record a surface"), ".")
      : el("p.quiet", {}, `Cover below ${answer.below}.`),
    answer.rules === null ? el("p.caution", {}, "No rule set is adopted, so no cover is proved. ", el("a", { href: context.href("record/rules") }, "Adopt one"), ".")
      : el("p.quiet", {}, `${answer.rules.title}: ${answer.rules.says}`),
    answer.gaps.length > 0 && el("section", {}, el("h2", {}, `${count(answer.gaps.length, "thing")} the record lacks`),
      gapList(answer.gaps.slice(0, 4)),
      answer.gaps.length > 4 && el("details.more", {}, el("summary", {}, `and ${answer.gaps.length - 4} more`), gapList(answer.gaps.slice(4)))),
    answer.runs.length === 0 && answer.expected.length === 0
      ? el("p.empty", {}, "No run is recorded and none is expected. ", el("a", { href: context.href("record") }, "Record measured points"), ", or give a list of the runs that are expected.") : null,
    answer.runs.length > 0 && el("section", {}, el("h2", {}, "Runs, worst first"), runList(context, answer)),
    separation(context, answer.separation),
    answer.expected.length > 0 && el("section", {}, el("h2", {}, "Expected"),
      el("ul.plain", {}, answer.expected.map((e) => el("li.legend-row", {}, e.recorded ? el("span.tag", {}, service(e.service).letters) : word("missing"),
        el("span", {}, el("strong", {}, e.run), [e.from, e.to].some((x) => x !== null) ? ` from ${e.from ?? "?"} to ${e.to ?? "?"}. ` : ". ", e.says))))),
    answer.inverts.length > 0 && el("section", {}, el("h2", {}, "Invert schedule"), inverts(answer.inverts)),
    cautions(answer.cautions),
    el("p.quiet", {}, `From the book at ${headShort(answer.head)}.`));
}

const inDoubt = (context: Context, run: string): boolean => (context.site.map?.runs.find((r) => r.run === run)?.doubts ?? []).length > 0;

/** Stations whose check failed or was not made, and what hangs on them: said before any figure. */
function suspects(context: Context): HTMLElement | null {
  const bad = context.site.stations.filter((s) => s.check !== "passed" || s.suspect.length > 0);
  if (bad.length === 0) return null;
  return el("section.in-doubt", { "data-role": "suspects" }, el("h2", {}, doubtWord("In doubt")), el("ul.plain", {}, bad.map((s) => el("li", {},
    el("a", { href: context.href(`record/stations/${encodeURIComponent(s.station)}`) }, s.station),
    `: ${s.check === "failed" ? "its check failed" : s.check === "not-done" ? "nobody checked it" : "an earlier check failed"}. `,
    s.suspect.length > 0 ? `Suspect: ${s.suspect.join(", ")}.` : "",
    s.unchecked_reason === null ? "" : ` Reason given: ${s.unchecked_reason}.`))));
}

const gapList = (gaps: CoverAnswer["gaps"]): HTMLElement => el("ul.plain.findings", {},
  gaps.map((g) => el("li", { "data-severity": "doubt" }, el("span.where", {}, `${g.about}: ${slugWords(g.code)}`), g.says)));

const FIRST = 60;

/** Many runs are shown by the page, worst first, so that twenty thousand legs do not make twenty thousand rows. */
function runList(context: Context, answer: CoverAnswer): HTMLElement {
  const list = el("div");
  let shown = 0;
  const more = button("", () => add(), "plain");
  const add = (): void => {
    const next = answer.runs.slice(shown, shown + FIRST);
    shown += next.length;
    for (const run of next) list.append(runBlock(context, run));
    more.hidden = shown >= answer.runs.length;
    more.textContent = `Show more (${answer.runs.length - shown} left)`;
  };
  add();
  return el("div", {}, list, more);
}

function runBlock(context: Context, run: CoverRun): HTMLElement {
  const inside = el("div.inside");
  const block = el("details.run-block", { "data-run": run.run },
    el("summary", {}, el("span.tag", {}, run.letters), el("span.name", {}, run.run), el("span.row-marks", {}, inDoubt(context, run.run) && doubtWord(), word(run.verdict)),
      el("span.row-small", {}, run.says)),
    inside);
  // The table is made when it is opened.
  block.addEventListener("toggle", () => {
    if (!block.open) return;
    context.plan.light([run.run]);
    if (inside.childElementCount > 0) return;
    put(inside, figures(run), legs(run.legs),
      run.findings.map((text) => el("p.caution", {}, text)),
      el("a.back", { href: context.href(`run/${encodeURIComponent(run.run)}`) }, `Card of ${run.run}`));
  });
  return block;
}

function figures(run: CoverRun): HTMLElement {
  const rows: [string, HTMLElement | string][] = [
    ["Least cover", run.least_cover_m === null ? run.why["least_cover_m"] ?? "not known" : `${coverText(run.least_cover_m)} m${run.at_chainage_m === null ? "" : ` at chainage ${levelText(run.at_chainage_m)} m`}`],
    ["At worst, 95 %", run.worst_cover_m === null ? run.why["worst_cover_m"] ?? "not known" : `${coverText(run.worst_cover_m)} m`],
    ["Rule on cover", ruleWords(run.rule)],
  ];
  if (run.fall_verdict !== null) rows.push(["Fall", word(run.fall_verdict)]);
  if (run.fall_rule !== null) rows.push(["Rule on fall", ruleWords(run.fall_rule)]);
  if (run.cover_unknown_m > 0) rows.push(["No surface above", `${deepText(run.cover_unknown_m)} m of it`]);
  if (run.emerges_at_m.length > 0) rows.push(["Comes up at", `${run.emerges_at_m.map(levelText).join(", ")} m`]);
  rows.push(["Longest between shots", `${deepText(run.longest_leg_m)} m`], ["Between shots", bowWords(run.bow_m, run.why["bow_m"])]);
  return el("dl.facts", {}, rows.map(([name, value]) => [el("dt", {}, name), el("dd", {}, value)]));
}

const ruleWords = (rule: { id: string | null; minimum: number | null; source: string; status: string }): string =>
  rule.id === null ? rule.source : `${rule.id}${rule.minimum === null ? "" : `, at least ${rule.minimum}`}: ${rule.source} (${rule.status})`;

function legs(list: readonly CoverLeg[]): HTMLElement {
  const falls = list.some((l) => l.fall !== null);
  return el("div.scroll-x", { tabindex: 0, role: "region", "aria-label": "Legs" }, el("table", {},
    el("thead", {}, el("tr", {}, el("th", {}, "Leg"), el("th.n", {}, "Length m"), el("th.n", {}, "Least cover m"), el("th.n", {}, "At worst m"), falls && el("th", {}, "Fall"), el("th", {}, "Cover"))),
    el("tbody", {}, list.map((l) => el("tr", {},
      el("td", {}, `${l.from} to ${l.to}`, l.riser && el("span.row-small", {}, "riser: left out of the cover rule"), unshotNote(l)),
      el("td.n", {}, levelText(l.length_m)),
      el("td.n", {}, l.least_cover_m === null ? el("span.row-small", {}, l.why["least_cover_m"] ?? "not known") : coverText(l.least_cover_m)),
      el("td.n", {}, l.worst_cover_m === null ? el("span.row-small", {}, l.why["worst_cover_m"] ?? "not known") : coverText(l.worst_cover_m)),
      falls && el("td", {}, l.fall ? fallWords(l.fall) : ""),
      el("td", {}, word(l.cover_verdict)))))));
}

const fallWords = (fall: FallView): HTMLElement =>
  el("span", {}, fall.says, " ", word(fall.verdict), fall.wrong_way && el("strong", {}, " falls the wrong way"));

/** Inverts in flow order. */
export function inverts(rows: readonly InvertRow[]): HTMLElement {
  return el("div.scroll-x", { tabindex: 0, role: "region", "aria-label": "Invert schedule" }, el("table", {},
    el("thead", {}, el("tr", {}, el("th", {}, "Run, point"), el("th.n", {}, "Chainage m"), el("th.n", {}, "Invert level m"), el("th.n", {}, "Depth to invert m"), el("th", {}, "Fall to next"))),
    el("tbody", {}, rows.slice(0, 400).map((r) => el("tr", {},
      el("td", {}, el("strong", {}, r.point), el("span.row-small", {}, r.run)),
      el("td.n", {}, levelText(r.chainage_m)),
      el("td.n", {}, r.invert_level_m === null ? el("span.row-small", {}, r.why["invert_level_m"] ?? "not known") : [levelText(r.invert_level_m), el("span.row-small", {}, plusMinus(r.u95_m))]),
      el("td.n", {}, r.depth_to_invert_m === null ? el("span.row-small", {}, r.why["depth_to_invert_m"] ?? "not known") : deepText(r.depth_to_invert_m)),
      el("td", {}, r.fall_to_next ? fallWords(r.fall_to_next) : "")))),
    rows.length > 400 && el("caption", {}, `The first 400 of ${rows.length}; the whole schedule is on the sheets.`)));
}
