// Stations and level books that are in the book: where the instrument stood, how sure, and what is in doubt.

import { api } from "./api";
import type { Context } from "./context";
import { append, button, el, put } from "./dom";
import { levelText, mmWords, plusMinus, signedMm } from "./format";
import { stationAt } from "./hit-test";
import { levelBook } from "./level-book";
import { checkWord, doubtWord, drawStation, stationAnswer } from "./station-answer";
import { stationMark } from "./symbols";
import type { LevelsView, StationView } from "./wire";

/** Opens the room, at one station when its name is given. */
export function stationsRoom(context: Context, name: string | undefined): void {
  const { site, plan, page } = context;
  const list = el("div");
  const books = el("div", { "aria-live": "polite" }, el("p.quiet", {}, "Asking for the level books."));
  append(page, [el("h1", {}, "Stations and level books"), list, el("h2", {}, "Level books"), books]);
  let open = name;
  const paint = (): void => {
    put(list, site.stations.length === 0
      ? el("p.empty", {}, "No station is recorded. ", el("a", { href: context.href("record/station") }, "Set up"), " by hand, or ", el("a", { href: context.href("record/import/observations") }, "import observations"), ".")
      : site.stations.map((s) => stationBlock(context, s, s.station === open, () => {
        // What is open stays open when the site is read again.
        open = s.station;
      })));
  };
  paint();
  context.onLeave(site.onChange((what) => {
    if (what === "view") paint();
  }));
  plan.onTap = (place, reach) => {
    const hit = stationAt(site.stations, place, reach);
    if (!hit) return;
    open = hit.station;
    paint();
    list.querySelector("details[open]")?.scrollIntoView({ block: "nearest" });
  };
  const load = async (): Promise<void> => {
    try {
      const all = await api.levels(site.id);
      put(books, all.length === 0
        ? el("p.empty", {}, "No level book is recorded. ", el("a", { href: context.href("record/import/levels") }, "Import one"), ".")
        : all.map(bookBlock));
    } catch (cause) {
      put(books, el("p.refused", {}, cause instanceof Error ? cause.message : String(cause)), button("Ask again", () => void load()));
    }
  };
  void load();
}

function stationBlock(context: Context, view: StationView, open: boolean, opened: () => void): HTMLElement {
  const inside = el("div.inside");
  const block = el("details.run-block", { "data-station": view.station },
    el("summary", {}, stationMark(), el("span.name", {}, view.station), checkWord(view),
      el("span.row-small", {}, view.says)), inside);
  const fill = (): void => {
    if (!block.open) return;
    opened();
    drawStation(context, view);
    if (inside.childElementCount > 0) return;
    put(inside, stationAnswer(view),
      el("div.acts", {}, el("a.door-link", { href: context.href(`record/stations/${encodeURIComponent(view.station)}/anew`), "data-act": "anew" }, "Set anew")),
      settings(context, view),
      el("p.quiet", {}, "In the book: ", view.entries.map((n, i) => [i > 0 && ", ", el("a", { href: context.href(`book/${n}`) }, `entry ${n}`)])));
  };
  block.addEventListener("toggle", fill);
  block.open = open;
  return block;
}

/** Every setting of a station, newest first: the old ones stay, with their figures. */
function settings(context: Context, view: StationView): HTMLElement | null {
  if (view.revisions.length < 2) return null;
  return el("section.settings", { "data-role": "settings" }, el("h3", {}, "Every setting, newest first"),
    el("ol.plain", {}, [...view.revisions].reverse().map((r, i) => el("li", {},
      el("p", {}, el("a", { href: context.href(`book/${r.entry}`) }, `entry ${r.entry}`), i === 0 ? " stands" : " stood before", ", by ", r.control.join(", "), " ", r.check === "passed" ? el("span.verdict", {}, "check passed") : doubtWord(r.check === "failed" ? "check failed" : "not checked")),
      el("p.setting-figures", {}, `${levelText(r.at[0])} E, ${levelText(r.at[1])} N ${plusMinus(r.u95_h_m)} m; level ${r.level_m === null ? "not known" : `${levelText(r.level_m)} m ${plusMinus(r.u95_v_m)} m`}`),
      r.moved_plan_m !== null && el("p", {}, `Moved ${mmWords(r.moved_plan_m)} in plan${r.moved_level_m === null ? "" : `, ${signedMm(r.moved_level_m)}\u00a0mm in level`}.`),
      r.changed.length > 0 && el("ul.plain.quiet", {}, r.changed.map((text) => el("li", {}, `${text}.`)))))));
}

function bookBlock(view: LevelsView): HTMLElement {
  const inside = el("div.inside");
  const block = el("details.run-block", { "data-book": view.book },
    el("summary", {}, el("span"), el("span.name", {}, view.book), view.closes ? el("span.verdict", {}, "closes") : doubtWord("not proved"),
      el("span.row-small", {}, view.says)), inside);
  block.addEventListener("toggle", () => {
    if (block.open && inside.childElementCount === 0) put(inside, levelBook(view));
  });
  return block;
}
