// The readings to one known point: what it is for, its target, and a sight on one face or on both.

import { ANGLE_UNITS, dmsText, readAngle, zenithWords } from "./angles";
import { button, el, put } from "./dom";
import { choice, field, need, needDecimal, type Field } from "./form";
import { decimal } from "./format";
import { emptySight, type SightDraft, type TargetDraft } from "./station-draft";
import type { AngleRead, FaceRead, SightKind } from "./wire";

export interface TargetForm {
  node: HTMLElement;
  /** Sights as the server takes them; null with a word beside the field that is wrong. */
  read(angles: AngleRead): Record<string, unknown>[] | null;
  /** Says the readings back again, after the unit changed. */
  said(): void;
}

interface SightForm {
  node: HTMLElement;
  read(angles: AngleRead): Record<string, unknown> | null;
  said(): void;
}

/** What the target form tells the screen. */
export interface TargetTells {
  angles(): AngleRead | "";
  changed(): void;
  role(): void;
  remove(): void;
  before: TargetDraft | undefined;
}

function typed(label: string, value: string, write: (text: string) => void, more: { unit?: string; hint?: string } = {}): Field {
  const made = field(label, { mode: "decimal", value, ...more });
  made.input.addEventListener("input", () => write(made.text()));
  return made;
}

/** The form for one point. */
export function targetForm(draft: TargetDraft, tells: TargetTells): TargetForm {
  const role = choice("What it is for", [{ value: "control", text: "to find the station" }, { value: "check", text: "kept as check" }], draft.sightedAs);
  role.onChange((value) => {
    draft.sightedAs = value as SightKind;
    tells.role();
  });
  const height = typed("Target height", draft.height, (text) => { draft.height = text; }, { unit: "m", hint: "From the point up to the middle of the prism." });
  const prism = typed("Prism constant", draft.prism, (text) => { draft.prism = text; }, { unit: "mm", hint: "What is still to be added to the distance. 0 when the instrument has added it." });
  const sights = el("div");
  let forms: SightForm[] = [];
  const paint = (): void => {
    forms = draft.sights.map((sight, i) => sightForm(draft.target, sight, i, draft.sights.length, tells, () => {
      draft.sights.splice(i, 1);
      tells.changed();
      paint();
    }));
    put(sights, forms.map((f) => f.node),
      el("div.acts", {}, button(draft.sights.length === 1 ? "Add the other face" : "Add a sight", () => {
        draft.sights.push(emptySight());
        tells.changed();
        paint();
      }, "plain", { "aria-label": `${draft.sights.length === 1 ? "Add the other face" : "Add a sight"}, ${draft.target}` })));
  };
  paint();
  const { before } = tells;
  const same = before && button(`As for ${before.target}`, () => {
    draft.height = height.input.value = before.height;
    draft.prism = prism.input.value = before.prism;
    tells.changed();
  }, "plain", { "aria-label": `As for ${before.target}: height and prism of ${draft.target}` });
  const node = el("section.target", { "data-target": draft.target },
    el("h3", {}, draft.target), role.node,
    sights,
    el("div.pair", {}, height.node, prism.node),
    el("div.acts", {}, same, button("Not sighted", tells.remove, "plain", { "aria-label": `Not sighted: ${draft.target}` })));
  return {
    node,
    said: () => forms.forEach((f) => f.said()),
    read(angles) {
      const rows: Record<string, unknown>[] = [];
      for (const form of forms) {
        const row = form.read(angles);
        if (row === null) return null;
        rows.push(row);
      }
      const h = needDecimal(height, true);
      const p = h === null ? null : needDecimal(prism, true);
      if (h === null || p === null) return null;
      return rows.map((row) => ({ target: draft.target, sighted_as: draft.sightedAs, ...row, target_height_m: h, prism_mm: p }));
    },
  };
}

function sightForm(target: string, sight: SightDraft, i: number, many: number, tells: TargetTells, remove: () => void): SightForm {
  const direction = typed("Direction", sight.direction, (text) => { sight.direction = text; });
  const zenith = typed("Zenith angle", sight.zenith, (text) => { sight.zenith = text; });
  const slope = typed("Slope distance", sight.slope, (text) => { sight.slope = text; }, { unit: "m" });
  const face = choice("Face", [{ value: "left", text: "left" }, { value: "right", text: "right" }, { value: "none", text: "not noted" }], sight.face);
  face.onChange((value) => { sight.face = value === "none" ? "" : value as FaceRead; });
  const back = el("p.read-back", { role: "status" });
  const said = (): void => {
    const angles = tells.angles();
    if (!direction.text() && !zenith.text() && !slope.text()) return put(back);
    if (angles === "") return put(back, "Say above how angles are written, and these readings are said back here.");
    const parts = [["direction", direction], ["zenith", zenith]].map(([name, f]) => {
      const text = (f as Field).text();
      if (!text) return `no ${name as string}`;
      const read = readAngle(text, angles);
      if (read.degrees === null) return `${name as string} does not read: ${read.wrong}`;
      return `${name as string} ${dmsText(read.degrees)}${name === "zenith" ? `, ${zenithWords(read.degrees)}` : ""}`;
    });
    const metres = decimal(slope.text());
    put(back, el("strong", {}, "Read as: "), `${parts.join("; ")}; ${!slope.text() ? "no distance" : metres === null ? "distance does not read" : `${slope.text()} metres along the sight`}.`);
  };
  for (const f of [direction, zenith, slope]) f.input.addEventListener("input", said);
  said();
  return {
    node: el("div.sight", {}, many > 1 && el("h4", {}, `Sight ${i + 1}`),
      el("div.triple", {}, direction.node, zenith.node, slope.node), back, face.node,
      many > 1 && el("div.acts", {}, button("Take this sight out", remove, "plain", { "aria-label": `Take this sight out: ${i + 1} to ${target}` }))),
    said,
    read(angles) {
      if (!direction.text() && !slope.text()) {
        direction.wrong(`type the direction to ${target}, the slope distance, or both`);
        return null;
      }
      const row: Record<string, unknown> = {};
      for (const [name, f] of [["direction", direction], ["zenith", zenith]] as const) {
        const text = f.text();
        if (!text) continue;
        const read = readAngle(text, angles);
        if (read.degrees === null) {
          f.wrong(read.wrong);
          return null;
        }
        row[name] = text;
      }
      if (slope.text()) {
        const metres = needDecimal(slope, true);
        if (metres === null) return null;
        if (need(zenith, "a slope distance needs its zenith angle") === null) return null;
        row["slope_m"] = metres;
      }
      if (sight.face) row["face"] = sight.face;
      return row;
    },
  };
}

/** The question that is never answered beforehand. */
export const unitChoice = (chosen: AngleRead | "") => choice("How are the angles written?",
  ANGLE_UNITS.map((u) => ({ value: u.value, text: el("span", {}, u.name, el("span.row-small", {}, u.example)) })), chosen);
