// Drawing a ring or line by touches, by typed corners, or by both: every drag has keys and figures beside it.

import { button, el, put } from "./dom";
import { field, select } from "./form";
import { cornersText, lineLength, parseCorners, ringArea, type Place } from "./project";
import type { Plan } from "./plan";
import { levelText } from "./format";

const round = (v: number): number => Math.round(v * 1000) / 1000;

export class Sketch {
  readonly node: HTMLElement;
  private places: Place[] = [];
  private chosen: number | null = null;
  private single = false;
  private readonly text;
  private readonly corners = el("div.acts");
  private readonly nudges = el("div");
  private readonly size = el("p.quiet", { "aria-live": "polite" });
  private readonly step = select("Step", [["0.01", "10 mm"], ["0.1", "100 mm"], ["1", "1 m"]]);

  constructor(private readonly plan: Plan, private closed: boolean, private widthM = 0, hint = "Touch the plan, or paste corners here.") {
    this.text = field("Corners, as E,N E,N ...", { mode: "area", rows: 3, hint, placeholder: "E,N E,N E,N" });
    (this.step.input as HTMLSelectElement).value = "0.1";
    this.text.input.addEventListener("input", () => {
      const read = parseCorners(this.text.text());
      if (read.places) {
        this.places = read.places;
        this.chosen = null;
        this.paint(false);
      }
    });
    this.text.input.addEventListener("change", () => {
      const read = parseCorners(this.text.text());
      if (read.wrong !== null) this.text.wrong(read.wrong);
      else if (this.places.length > 0) plan.fitPlaces(this.places.map((p) => [p.easting, p.northing]), 90);
    });
    this.node = el("div.sketch", {}, this.text.node,
      el("div.acts", {},
        button("Corner at the cross", () => this.add(plan.middle())),
        button("Take back the last", () => {
          this.places.pop();
          this.chosen = null;
          this.paint(true);
        })),
      this.corners, this.nudges, this.size);
    plan.scene.cross = true;
    plan.onTap = (place) => this.add(place);
    this.paint(false);
  }

  /** The corners, or null with a word beside the field. */
  read(least: number): Place[] | null {
    const read = parseCorners(this.text.text());
    if (read.wrong !== null) {
      this.text.wrong(read.wrong);
      return null;
    }
    if (read.places.length < least) {
      this.text.wrong(least === 1 ? "touch the plan where it goes down, or paste the place here" : `${least === 3 ? "an area" : "a line"} needs at least ${least} corners: touch the plan, or paste them here`);
      return null;
    }
    return read.places;
  }

  /** Shows what is wrong with the corners. */
  wrong(text: string): void {
    this.text.wrong(text);
  }

  /** Puts corners in place of those there. */
  set(places: readonly Place[]): void {
    this.places = [...places];
    this.chosen = null;
    this.paint(true);
  }

  /** Draws a ring, a line of this width, or one place alone. */
  shape(closed: boolean, widthM: number, single = false): void {
    this.closed = closed;
    this.widthM = widthM;
    this.single = single;
    if (single && this.places.length > 1) this.places.splice(0, this.places.length - 1);
    this.paint(single);
  }

  private add(place: Place): void {
    if (this.single) this.places = [];
    this.places.push({ easting: round(place.easting), northing: round(place.northing) });
    this.chosen = this.places.length - 1;
    this.paint(true);
  }

  private paint(write: boolean): void {
    if (write) {
      this.text.input.value = cornersText(this.places);
      this.text.wrong("");
    }
    this.plan.scene.sketch = { places: this.places, closed: this.closed, widthM: this.widthM, chosen: this.chosen };
    this.plan.draw();
    put(this.corners, this.places.length > 0 && this.places.length <= 24 && this.places.map((_, i) =>
      button(String(i + 1), () => {
        this.chosen = this.chosen === i ? null : i;
        this.paint(false);
      }, i === this.chosen ? "ink" : "plain", { "aria-pressed": String(i === this.chosen), "aria-label": `Corner ${i + 1}` })));
    const chosen = this.chosen === null ? undefined : this.places[this.chosen];
    put(this.nudges, chosen && el("div.nudge", {},
      ([["N", 0, 1], ["S", 0, -1], ["W", -1, 0], ["E", 1, 0]] as const).map(([name, de, dn]) =>
        button(name, () => {
          const by = Number(this.step.input.value);
          chosen.easting = Math.round((chosen.easting + de * by) * 1000) / 1000;
          chosen.northing = Math.round((chosen.northing + dn * by) * 1000) / 1000;
          this.paint(true);
        }, "plain", { "aria-label": `Move corner ${(this.chosen ?? 0) + 1} ${{ N: "north", S: "south", W: "west", E: "east" }[name]}` })),
      this.step.node));
    this.size.textContent = this.places.length < 2 ? ""
      : this.closed ? `${levelText(ringArea(this.places))} m\u00b2, ${this.places.length} corners`
      : `${levelText(lineLength(this.places))} m long, ${this.places.length} corners`;
  }
}
