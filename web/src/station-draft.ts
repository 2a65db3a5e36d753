// A set-up as it is being typed: kept while the browser is open, so that a telephone call on site loses nothing.

import type { FaceRead, SightKind, AngleRead } from "./wire";

export interface SightDraft {
  direction: string;
  zenith: string;
  slope: string;
  face: FaceRead | "";
}

export interface TargetDraft {
  target: string;
  sightedAs: SightKind;
  height: string;
  prism: string;
  sights: SightDraft[];
}

export const FIGURES = ["distance_mm", "distance_ppm", "direction_sec", "zenith_sec", "target_height_sigma_mm", "centring_sigma_mm"] as const;
export type Figure = (typeof FIGURES)[number];

/** What is common for instruments on building sites: from memory of the trade, one sigma; to be said as assumed. */
export const COMMON: Record<Figure, string> = {
  distance_mm: "2", distance_ppm: "2", direction_sec: "5", zenith_sec: "5", target_height_sigma_mm: "1", centring_sigma_mm: "1",
};

/** What was said of the air: reckoned with by the instrument, to be applied now, or not known. */
export interface AirDraft {
  how: "" | "instrument" | "apply" | "unknown";
  entered: string;
  temperature: string;
  pressure: string;
  humidity: string;
  ppm: string;
  reference: string;
  wavelength: string;
}

export const emptyAir = (): AirDraft => ({ how: "", entered: "", temperature: "", pressure: "", humidity: "", ppm: "", reference: "", wavelength: "" });

export interface StationDraft {
  station: string;
  mark: "" | "none" | "over";
  instrumentHeight: string;
  angles: AngleRead | "";
  targets: TargetDraft[];
  instrumentName: string;
  figures: Record<Figure, string>;
  tolerance: string;
  air: AirDraft;
}

export const emptySight = (): SightDraft => ({ direction: "", zenith: "", slope: "", face: "" });

export const emptyDraft = (): StationDraft => ({
  station: "", mark: "", instrumentHeight: "", angles: "", targets: [], instrumentName: "", tolerance: "", air: emptyAir(),
  figures: { distance_mm: "", distance_ppm: "", direction_sec: "", zenith_sec: "", target_height_sigma_mm: "", centring_sigma_mm: "" },
});

const key = (site: string): string => `coverbook.setup.${site}`;

/** The draft kept for a site, or an empty one. */
export function keptDraft(site: string): StationDraft {
  try {
    const kept: unknown = JSON.parse(sessionStorage.getItem(key(site)) ?? "null");
    if (kept !== null && typeof kept === "object") return { ...emptyDraft(), ...kept };
  } catch {
    // A draft that cannot be read is no draft.
  }
  return emptyDraft();
}

export const keepDraft = (site: string, draft: StationDraft): void => sessionStorage.setItem(key(site), JSON.stringify(draft));
export const dropDraft = (site: string): void => sessionStorage.removeItem(key(site));

/** What a newly chosen point is for: three find the station, the next is kept as the check, more help to find it. */
export function nextRole(targets: readonly TargetDraft[]): SightKind {
  const control = targets.filter((t) => t.sightedAs === "control").length;
  return control >= 3 && !targets.some((t) => t.sightedAs === "check") ? "check" : "control";
}

/** Adds a point, or gives the one that is there. */
export function addTarget(draft: StationDraft, target: string): TargetDraft {
  const there = draft.targets.find((t) => t.target === target);
  if (there) return there;
  const made: TargetDraft = { target, sightedAs: nextRole(draft.targets), height: "", prism: "", sights: [emptySight()] };
  draft.targets.push(made);
  return made;
}

/** What is still missing, or what there is, in a sentence. */
export function chosenWords(targets: readonly TargetDraft[]): string {
  const control = targets.filter((t) => t.sightedAs === "control").length;
  const check = targets.length - control;
  if (control < 2) return `Chosen: ${control} to find the station. At least two are needed, three are usual.`;
  if (check === 0) return `Chosen: ${control} to find the station, none kept as check. Choose one more: without a check the station is used only for a written reason.`;
  return `Chosen: ${control} to find the station, ${check} kept as check.`;
}

const COLUMNS: Record<string, string> = {
  point: "target", target: "target", control: "target", direction: "direction", hz: "direction", horizontal: "direction", zenith: "zenith", v: "zenith",
  slope: "slope", slope_m: "slope", distance: "slope", target_height: "height", target_height_m: "height", height: "height", prism: "prism", prism_mm: "prism",
  face: "face", as: "as", sighted_as: "as",
};
export const USUAL_ORDER = ["target", "direction", "zenith", "slope", "height", "prism", "face"] as const;

function split(line: string): string[] {
  const mark = ["\t", ";", ","].find((m) => line.includes(m)) ?? /\s+/;
  return line.split(mark).map((cell) => cell.trim());
}

/** Puts pasted readings into the draft; gives what is wrong, with its line, or null. Nothing is changed when it is wrong. */
export function pasteReadings(draft: StationDraft, text: string, known: ReadonlySet<string>): string | null {
  const lines = text.split(/\r?\n/).map((line, i) => ({ line: line.trim(), n: i + 1 })).filter((l) => l.line !== "");
  if (lines.length === 0) return "paste at least one line";
  const first = split((lines[0] as { line: string }).line).map((c) => COLUMNS[c.toLowerCase().replaceAll(" ", "_")]);
  const headed = first[0] !== undefined && first.filter((c) => c !== undefined).length >= 3;
  const order: readonly (string | undefined)[] = headed ? first : USUAL_ORDER;
  const rows: (Record<string, string> & { n: string })[] = [];
  for (const { line, n } of headed ? lines.slice(1) : lines) {
    const cells = split(line);
    if (cells.length > order.length) return `line ${n} has ${cells.length} columns where ${order.length} are known: part columns by tabs or semicolons`;
    const row: Record<string, string> & { n: string } = { n: String(n) };
    cells.forEach((cell, i) => {
      const name = order[i];
      if (name !== undefined) row[name] = cell;
    });
    const target = row["target"] ?? "";
    if (!known.has(target)) return `line ${n}: ${target || "a blank"} is no control point of this site`;
    const face = (row["face"] ?? "").toLowerCase();
    if (!["", "left", "right", "l", "r", "1", "2", "i", "ii"].includes(face)) return `line ${n}: face ${face} is neither left nor right`;
    const as = row["as"] ?? "";
    if (!["", "control", "check"].includes(as)) return `line ${n}: ${as} is neither control nor check`;
    row["face"] = face === "" ? "" : ["left", "l", "1", "i"].includes(face) ? "left" : "right";
    rows.push(row);
  }
  if (rows.length === 0) return "there is a header and no readings";
  const fresh = new Set<string>();
  for (const row of rows) {
    const target = addTarget(draft, row["target"] as string);
    if (!fresh.has(target.target)) target.sights = [];
    fresh.add(target.target);
    target.height = row["height"] ?? target.height;
    target.prism = row["prism"] ?? target.prism;
    if (row["as"]) target.sightedAs = row["as"] as SightKind;
    target.sights.push({ direction: row["direction"] ?? "", zenith: row["zenith"] ?? "", slope: row["slope"] ?? "", face: (row["face"] ?? "") as FaceRead | "" });
  }
  return null;
}
