// A level book as it was reduced: the verdict first, then the rows with both reductions, and the sums that check them.

import { el } from "./dom";
import { levelText, plusMinus } from "./format";
import { doubtWord } from "./station-answer";
import type { LevelsView } from "./wire";

const SUMS = ["Sum of back sights", "Sum of fore sights", "Sum of rises", "Sum of falls", "Last level less first"] as const;

/** A reduced level book. */
export function levelBook(view: LevelsView): HTMLElement {
  const adjusted = view.rows.some((r) => r.adjusted_m !== null);
  const known = view.rows.some((r) => r.known_level !== null);
  return el("div.level-book", {},
    el("p.says", { "data-role": "levels-says" }, view.says),
    el("p.station-marks", {}, view.closes ? el("span.verdict", {}, "closes") : doubtWord(view.misclosure_mm === null ? "not checked" : "not proved"), " ",
      view.checks_hold ? el("span.verdict", {}, "arithmetic holds") : doubtWord("arithmetic does not hold")),
    view.findings.length > 0 && el("ul.plain.findings", {}, view.findings.map((text) => el("li", { "data-severity": "doubt" }, text))),
    el("div.scroll-x", { tabindex: 0, role: "region", "aria-label": `Rows of ${view.book}` }, el("table", {},
      el("thead", {}, el("tr", {}, el("th", {}, "Point"), el("th.n", {}, "Rise m"), el("th.n", {}, "Fall m"), el("th.n", {}, "Collimation m"), el("th.n", {}, "Level m"),
        known && el("th.n", {}, "Known m"), adjusted && el("th.n", {}, "Spread m"))),
      el("tbody", {}, view.rows.map((r) => el("tr", {},
        el("td", {}, el("strong", {}, r.point), el("span.row-small", {}, `row ${r.row}`)),
        el("td.n", {}, r.rise ?? ""), el("td.n", {}, r.fall ?? ""), el("td.n", {}, r.collimation),
        el("td.n", {}, r.level, !adjusted && el("span.row-small", {}, plusMinus(r.u95_m))),
        known && el("td.n", {}, r.known_level ?? ""),
        adjusted && el("td.n", {}, r.adjusted_m === null ? el("span.row-small", {}, "not spread") : [levelText(r.adjusted_m), el("span.row-small", {}, plusMinus(r.u95_m))])))))),
    el("details.more", {}, el("summary", {}, "The sums that check it"),
      el("dl.facts", {}, SUMS.map((name, i) => [el("dt", {}, name), el("dd", {}, `${view.sums[i] ?? ""} m`)])),
      el("p.quiet", {}, "Back less fore, rises less falls, and last less first must be one figure: that proves the sums, not the readings. The misclosure speaks for those.")));
}
