// Where the level of what was touched comes from: below a recorded surface, by a staff, or a level that is known. The same
// question for every way of measuring without an instrument; nothing is chosen beforehand.

import type { Context } from "./context";
import { el, put } from "./dom";
import { choice, field, need, needDecimal, select, type Field } from "./form";

export interface LevelForm {
  node: HTMLElement;
  /** The level as the server takes it; null with a word beside the field that is wrong. */
  read(): Record<string, string> | null;
}

/** The question, its fields and how good the figure is. */
export function levelForm(context: Context, marks: () => string): LevelForm {
  const how = choice("Where does its level come from?", [
    { value: "depth", text: "a tape down from a surface" }, { value: "staff", text: "a staff, from a known point" }, { value: "stated", text: "its level is known" },
  ]);
  // A name can be recorded as several kinds; each is another surface.
  const surfaces = [...new Map((context.site.view?.surfaces ?? []).map((s) => [`${s.kind}|${s.name}`, `${s.name}, ${s.kind.replaceAll("-", " ")}`]))];
  const surface = select("Below which surface", surfaces, { blank: surfaces.length === 0 ? "No surface is recorded" : "Say which" });
  const depth = field("Depth, straight down", { unit: "m", mode: "decimal" });
  const mark = field("Known point the staff stood on", { hint: "Control, or a recorded point.", list: marks() });
  const back = field("Staff on the known point", { unit: "m", mode: "decimal" });
  const fore = field("Staff here", { unit: "m", mode: "decimal", hint: "With a minus where the staff hung upside down." });
  const level = field("Level", { unit: "m", mode: "decimal" });
  const sigma = field("How good it is, one sigma", { unit: "mm", mode: "decimal", hint: "5 mm is common for a tape held plumb, 3 mm for two staff readings (common practice)." });
  const inside = el("div");
  const shown: Record<string, Field[]> = { depth: [surface, depth], staff: [mark, back, fore], stated: [level] };
  how.onChange((value) => put(inside, (shown[value] ?? []).map((f) => f.node), sigma.node));
  return {
    node: el("div", {}, how.node, inside),
    read() {
      const by = how.value();
      if (!by) {
        how.wrong("say where its level comes from; without one it lies at no depth");
        return null;
      }
      const made: Record<string, string> = { by };
      if (by === "depth") {
        const [kind, ...name] = (need(surface, "name the surface that the tape hung from") ?? "").split("|");
        if (!kind) return null;
        made["surface_kind"] = kind;
        made["surface"] = name.join("|");
      } else if (by === "staff") {
        const from = need(mark, "name the point the staff stood on");
        if (from === null) return null;
        made["mark"] = from;
      }
      const figures: [string, Field][] = by === "depth" ? [["depth_m", depth]] : by === "staff" ? [["back_m", back], ["fore_m", fore]] : [["level_m", level]];
      for (const [name, f] of [...figures, ["sigma_mm", sigma] as [string, Field]]) {
        const value = needDecimal(f, true);
        if (value === null || value === undefined) return null;
        made[name] = value;
      }
      return made;
    },
  };
}
