// Tying a grid of the site's own to a national one, by points that are known on both.

import { api } from "./api";
import type { Context } from "./context";
import { append, button, el } from "./dom";
import { byField, choice, EntryId, field, keepBy, need, needDecimal, Outcome, perform } from "./form";
import { decimal, headShort } from "./format";

/** Opens the room. */
export function tieGrid(context: Context): void {
  const { site, page } = context;
  const epsg = field("EPSG code of the grid", { mode: "decimal", hint: "A projected grid, such as one of UTM: 32601 to 32660 north, 32701 to 32760 south." });
  const common = field("Points known on both", { mode: "area", rows: 5, hint: "One a line: name, easting and northing here, easting and northing there. Two are the least and prove nothing: give three or more." });
  const scale = choice("Scale between the two", [{ value: "fit", text: "fitted to the points" }, { value: "held", text: "held at a figure" }]);
  const held = field("Scale held", { mode: "decimal", hint: "Grid there over distance here, such as 0.9996." });
  held.node.hidden = true;
  scale.onChange((value) => { held.node.hidden = value !== "held"; });
  const by = byField();
  const outcome = new Outcome();
  const key = button("Tie the grid", () => void act(), "ink");
  const entry = new EntryId();
  const act = async (): Promise<void> => {
    const code = needDecimal(epsg, true);
    if (code === null) return;
    const rows = common.text().split(/\r?\n/).map((l) => l.trim()).filter((l) => l !== "").map((l) => l.split(/\s*[,;\t]\s*|\s+/));
    const bad = rows.findIndex((r) => r.length !== 5 || r.slice(1).some((v) => decimal(v) === null));
    if (bad >= 0 || rows.length < 2) return common.wrong(bad >= 0 ? `line ${bad + 1} is not a name and four numbers with points for decimals` : "give at least two points");
    if (!scale.value()) return scale.wrong("say whether the scale is fitted or held");
    const fixed = scale.value() === "held" ? needDecimal(held, true) : undefined;
    const who = fixed === null ? null : need(by, "the book shows who tied it");
    if (fixed === null || who === null) return;
    keepBy(who);
    await perform(outcome, key, "Tying the grid.", () => entry.send((id) => api.tieGrid(site.id, {
      id, epsg: Number(code),
      common: rows.map(([point, e, n, ge, gn]) => ({ point, local_easting_m: e, local_northing_m: n, grid_easting_m: ge, grid_northing_m: gn })),
      ...(fixed === undefined ? {} : { scale_held: fixed }), by: who,
    })), (view) => [`Grid: ${view.grid.name}. The book is now at ${headShort(view.head)}. `, view.cautions.map((text) => el("p.caution", {}, text))]);
    await site.refresh().catch(() => undefined);
  };
  append(page, [el("h1", {}, "Tie the grid"),
    el("p", {}, "Positions stay on the site's own grid; the tie lets longitude and latitude be given, and says how well the common points agree."),
    el("form.form", { submit: (e) => { e.preventDefault(); void act(); } }, epsg.node, common.node, scale.node, held.node, by.node, el("div.acts", {}, key), outcome.node)]);
}
