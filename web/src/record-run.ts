// Laying a run through recorded points: touch them in order on the plan, or type their names.

import { api } from "./api";
import type { Context } from "./context";
import { append, button, el, put } from "./dom";
import { byField, choice, EntryId, field, keepBy, need, needDecimal, Outcome, perform, select, type Field } from "./form";
import { pointsOf } from "./points-of";
import { allServices, service } from "./services";
import type { Triple } from "./wire";

/** Opens the room. */
export function layRun(context: Context): void {
  const { site, plan, page } = context;
  const name = field("Name of the run");
  const carries = select("What it carries", allServices().map((s) => [s.slug, `${s.letters}  ${s.name}`]), { blank: "Say which" });
  const chain = field("Points in order", { mode: "area", rows: 2, hint: "Touch points on the plan, or type their names with spaces between." });
  const flow = el("p.field-hint");
  const size = field("Nominal size", { unit: "mm", mode: "decimal", hint: "A name, not a measurement." });
  const outside = field("Outside diameter", { unit: "mm", mode: "decimal" });
  const wall = field("Wall", { unit: "mm", mode: "decimal", hint: "Needed for inverts." });
  const material = field("Material");
  const rows = field("Rows of a bank", { mode: "decimal" });
  const columns = field("Columns", { mode: "decimal" });
  const spacing = field("Spacing", { unit: "mm", mode: "decimal" });
  const ends = ["Begins", "Ends"].map((label) => endField(label));
  const by = byField();
  const outcome = new Outcome();
  const note = el("p.quiet", { role: "status" }, "Reading points from the book.");
  let known = new Map<string, Triple>();

  const labels = (): string[] => chain.text().split(/[\s,;]+/).filter((t) => t !== "");
  const paint = (): void => {
    const order = new Map(labels().map((label, i) => [label, i]));
    plan.scene.points = [...known].map(([point, at]) => ({ point, at, chosen: order.get(point) ?? null }));
    plan.draw();
  };
  chain.input.addEventListener("input", paint);
  carries.input.addEventListener("change", () => {
    flow.textContent = service(carries.text()).gravity ? "It flows by gravity: give the points in the direction of flow." : "";
  });
  plan.onTap = (place, reach) => {
    let best: string | null = null;
    let least = reach * 1.6;
    for (const [point, at] of known) {
      const off = Math.hypot(at[0] - place.easting, at[1] - place.northing);
      if (off < least) {
        least = off;
        best = point;
      }
    }
    if (best === null) return;
    const now = labels();
    if (now.at(-1) === best) now.pop();
    else now.push(best);
    chain.input.value = now.join(" ");
    chain.wrong("");
    paint();
  };
  const load = async (): Promise<void> => {
    try {
      const { points, more } = await pointsOf(site.id);
      known = points;
      note.textContent = points.size === 0 ? "No measured points are recorded yet: import a file of points first." : more ? `${points.size} points shown, the newest; older ones can still be typed by name.` : `${points.size} points shown on the plan.`;
      paint();
    } catch (cause) {
      note.textContent = `Points could not be read: ${cause instanceof Error ? cause.message : String(cause)}. Names can still be typed.`;
    }
  };
  void load();

  // One id until the book has it: sending again after a broken connection then changes nothing.
  const entry = new EntryId();
  const key = button("Lay the run", () => void act(), "ink");
  const act = async (): Promise<void> => {
    const run = need(name, "a run needs a name");
    const slug = run === null ? null : need(carries, "say what it carries; unknown is an answer too");
    if (slug === null) return;
    const points = labels();
    if (points.length < 2) {
      chain.wrong("a run needs at least two points");
      return;
    }
    const section: Record<string, string | number> = {};
    for (const [key2, f] of [["size_mm", size], ["outside_mm", outside], ["wall_mm", wall], ["spacing_mm", spacing]] as [string, Field][]) {
      const value = needDecimal(f, false);
      if (value === null) return;
      if (value !== undefined) section[key2] = value;
    }
    for (const [key2, f] of [["rows", rows], ["columns", columns]] as [string, Field][]) {
      const value = needDecimal(f, false);
      if (value === null) return;
      if (value !== undefined) section[key2] = Number(value);
    }
    if (material.text()) section["material"] = material.text();
    const stated = ends.map((e) => e.read());
    const who = need(by, "the book shows who laid it");
    if (who === null || stated.includes(null)) return;
    keepBy(who);
    await perform(outcome, key, "Laying the run.", () => entry.send((id) => api.layRun(site.id, { id, run, service: slug, points, section, ends: stated, by: who })),
      (card) => ["Run ", el("a", { href: context.href(`run/${encodeURIComponent(card.run)}`) }, card.run), ` laid through ${card.vertices.length} points.`]);
    await site.refresh().catch(() => undefined);
  };
  append(page, [el("h1", {}, "A run through points"), note,
    el("form.form", { submit: (e) => { e.preventDefault(); void act(); } },
      chain.node,
      el("div.acts", {}, button("Take back the last", () => {
        const now = labels();
        now.pop();
        chain.input.value = now.join(" ");
        paint();
      })),
      name.node, carries.node, flow,
      el("div.pair", {}, size.node, outside.node, wall.node, material.node),
      el("details.more", {}, el("summary", {}, "A bank of several ways"), el("div.triple", {}, rows.node, columns.node, spacing.node)),
      ends.map((e) => e.node), by.node, el("div.acts", {}, key), outcome.node)]);
}

type End = { how: string; run?: string; structure?: string };

function endField(label: string): { node: HTMLElement; read: () => End | null } {
  const how = choice(`${label}`, [
    { value: "capped", text: "capped" }, { value: "joins", text: "joins a run" }, { value: "enters", text: "enters a structure" },
    { value: "continues-unrecorded", text: "goes on, not recorded" }, { value: "not-stated", text: "not stated" },
  ]);
  const which = field("Which", {});
  which.node.hidden = true;
  how.onChange((value) => {
    which.node.hidden = value !== "joins" && value !== "enters";
  });
  const node = el("div");
  put(node, how.node, which.node);
  return {
    node,
    read: () => {
      const value = how.value();
      if (!value) {
        how.wrong("say how it ends; not stated is an answer too");
        return null;
      }
      if (value !== "joins" && value !== "enters") return { how: value };
      const name = need(which, value === "joins" ? "name the run it joins" : "name the structure it enters");
      if (name === null) return null;
      return value === "joins" ? { how: value, run: name } : { how: value, structure: name };
    },
  };
}
