// The air along the sights: what the instrument did about it, so that nothing is reckoned with twice.

import { el, put } from "./dom";
import { choice, field, need, needDecimal } from "./form";
import { decimal } from "./format";
import { heightOfPressure } from "./air";
import type { AirDraft } from "./station-draft";

export interface AirForm {
  node: HTMLElement;
  /** The fields of a station that say it; null with a word beside the field that is wrong. */
  read(): { air?: Record<string, string>; air_in_instrument?: string } | null;
}

/** The form; what is typed is kept in the draft. */
export function airForm(draft: AirDraft, changed: () => void): AirForm {
  const how = choice("What did the instrument do about the air?", [
    { value: "instrument", text: el("span", {}, "It reckoned with it", el("span.row-small", {}, "temperature and pressure, or their ppm, were entered")) },
    { value: "apply", text: el("span", {}, "To be applied now", el("span.row-small", {}, "temperature and pressure were read, not entered")) },
    { value: "unknown", text: el("span", {}, "Not known", el("span.row-small", {}, "distances are taken as displayed")) },
  ], draft.how);
  const typed = (key: keyof AirDraft, label: string, unit: string | undefined, hint: string) => {
    const made = field(label, { mode: key === "entered" ? "text" : "decimal", value: draft[key], hint, ...(unit ? { unit } : {}) });
    made.input.addEventListener("input", () => {
      (draft[key] as string) = made.text();
      changed();
      said();
    });
    return made;
  };
  const entered = typed("entered", "What was entered, as the instrument shows it", undefined, "Such as 18 \u00b0C, 1009 hPa, or +6 ppm. Kept in the book; nothing is applied again.");
  const temperature = typed("temperature", "Temperature", "\u00b0C", "In the shade, at the instrument.");
  const pressure = typed("pressure", "Pressure", "hPa (mbar)", "As it is at the instrument, not brought to sea level.");
  const humidity = typed("humidity", "Relative humidity", "%", "Matters little: 20 % is less than 0.3 ppm in mild air.");
  const ppm = typed("ppm", "ppm set in the instrument", "ppm", "What its distances hold already. 0 when it stood at 0 ppm.");
  const reference = typed("reference", "Refractivity at 0 ppm", "ppm", "From its manual: the first figure, between 270 and 300, in its formula for the air.");
  const wavelength = typed("wavelength", "Wavelength", "\u00b5m", "From its data sheet: 658 nm is 0.658.");
  const back = el("p.read-back", { role: "status" });
  const said = (): void => {
    const [t, p] = [decimal(temperature.text()), decimal(pressure.text())];
    const height = p === null ? null : heightOfPressure(p);
    put(back, t !== null && p !== null && [el("strong", {}, "Read as: "), `${t} \u00b0C, and ${p} hPa, ${height === null ? "which is no pressure of open air" : `which is usual ${height < 0 ? "at sea level and below" : `about ${Math.round(height / 50) * 50} m above the sea`}`}.`]);
  };
  const inside = el("div");
  const paint = (): void => {
    put(inside,
      draft.how === "instrument" && entered.node,
      draft.how === "apply" && [el("div.triple", {}, temperature.node, pressure.node, humidity.node), back, el("div.triple", {}, ppm.node, reference.node, wavelength.node),
        el("p.quiet", {}, "The ppm set in the instrument is taken off again before the air's is put on: nothing counts twice.")],
      draft.how === "unknown" && el("p.quiet", {}, "10 \u00b0C beside the air that the instrument assumed are about 1 mm in 100 m (common practice). The book says that nobody knew."));
    said();
  };
  how.onChange((value) => {
    draft.how = value as AirDraft["how"];
    changed();
    paint();
  });
  paint();
  return {
    node: el("div.air", {}, how.node, inside),
    read() {
      if (draft.how === "instrument") {
        const text = need(entered, "write what was entered, so that nobody applies it again");
        return text === null ? null : { air_in_instrument: text };
      }
      if (draft.how !== "apply") return {};
      const air: Record<string, string> = {};
      for (const [name, f] of [["temperature_c", temperature], ["pressure_hpa", pressure], ["humidity_pct", humidity], ["entered_ppm", ppm], ["reference_ppm", reference], ["wavelength_um", wavelength]] as const) {
        const value = needDecimal(f, true);
        if (value === null || value === undefined) return null;
        air[name] = value;
      }
      return { air };
    },
  };
}
