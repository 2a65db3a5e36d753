// Looking down: the plan. OpenLayers moves the view over the site's own metric grid; the drawing is ours.

import { defaults as defaultInteractions } from "ol/interaction/defaults";
import Layer from "ol/layer/Layer";
import Map from "ol/Map";
import type { FrameState } from "ol/Map";
import Projection from "ol/proj/Projection";
import View from "ol/View";
import { button, el } from "./dom";
import { RunIndex } from "./hit-test";
import { drawMoved, drawPlan } from "./plan-draw";
import { emptyScene, type Look, type Scene } from "./plan-scene";
import type { Place } from "./project";
import { inks, onTheme } from "./theme";
import type { SiteMap, StationView } from "./wire";

/** Vertices in view beyond which a moving plan is drawn from a picture of itself. */
const HEAVY = 4000;

export type Tap = (place: Place, reachM: number) => void;

export class Plan {
  readonly host: HTMLElement;
  readonly scene: Scene = emptyScene();
  /** What a touch does; the door that is open decides. */
  onTap: Tap | null = null;
  private readonly map: Map;
  private readonly layer: Layer;
  private readonly canvas = document.createElement("canvas");
  private readonly picture = document.createElement("canvas");
  private still: Look | null = null;
  private fitted = false;
  /** A box to fit once the plan has a size. */
  private waiting: (() => void) | null = null;
  private colours = inks();

  constructor() {
    const ground = el("div.plan-ground", {
      tabindex: 0, role: "application",
      "aria-label": "Plan of the site. Arrow keys move it, plus and minus change the scale.",
    });
    this.host = el("section.plan", { "aria-label": "Plan" }, ground,
      el("div.plan-keys", {},
        button("+", () => this.zoom(1 / 1.6), "key", { "aria-label": "Closer" }),
        button("\u2212", () => this.zoom(1.6), "key", { "aria-label": "Farther" }),
        button("All", () => this.fitAll(), "key", { "aria-label": "All of the site" })));
    const projection = new Projection({ code: "LOCAL:GRID", units: "m", extent: [-1e8, -1e8, 1e8, 1e8] });
    this.layer = new Layer({ render: (frame) => this.render(frame) });
    this.map = new Map({
      target: ground,
      layers: [this.layer],
      controls: [],
      interactions: defaultInteractions({ altShiftDragRotate: false, pinchRotate: false, doubleClickZoom: false, shiftDragZoom: false }),
      view: new View({
        projection, center: [0, 0], resolution: 0.05, minResolution: 1e-5, maxResolution: 200,
        constrainResolution: false, enableRotation: false, smoothResolutionConstraint: false,
      }),
    });
    this.map.on("click", (event) => {
      const [easting, northing] = event.coordinate as [number, number];
      this.onTap?.({ easting, northing }, 14 * this.resolution());
    });
    onTheme(() => {
      this.colours = inks();
      this.draw();
    });
    new ResizeObserver(() => {
      this.map.updateSize();
      const fit = this.waiting;
      if (fit && ground.clientWidth > 10) {
        this.waiting = null;
        fit();
      }
    }).observe(ground);
    void document.fonts.ready.then(() => this.draw());
  }

  private resolution(): number {
    return this.map.getView().getResolution() ?? 1;
  }

  private render(frame: FrameState): HTMLElement {
    const [width, height] = frame.size as [number, number];
    const ratio = frame.pixelRatio;
    if (this.canvas.width !== Math.round(width * ratio) || this.canvas.height !== Math.round(height * ratio)) {
      this.canvas.width = Math.round(width * ratio);
      this.canvas.height = Math.round(height * ratio);
      this.canvas.style.width = `${width}px`;
      this.canvas.style.height = `${height}px`;
      this.canvas.style.position = "absolute";
    }
    const pen = this.canvas.getContext("2d");
    const { center, resolution } = frame.viewState;
    const look: Look = {
      width, height, ratio, resolution, easting: center[0] as number, northing: center[1] as number,
      moving: frame.viewHints.some((hint) => hint > 0),
    };
    if (pen && look.moving && this.still) drawMoved(pen, this.picture, this.still, look, this.colours);
    else if (pen) this.drawAtRest(pen, look);
    // Where the plan looks from, for those who test it from outside.
    this.host.dataset["look"] = `${center[0]} ${center[1]} ${resolution}`;
    return this.canvas;
  }

  /** Draws everything, and keeps a picture to move about when there is too much to draw for every frame. */
  private drawAtRest(pen: CanvasRenderingContext2D, look: Look): void {
    const heavy = drawPlan(pen, this.scene, look, this.colours) > HEAVY && !look.moving;
    this.still = heavy ? look : null;
    if (!heavy) return;
    this.picture.width = this.canvas.width;
    this.picture.height = this.canvas.height;
    this.picture.getContext("2d")?.drawImage(this.canvas, 0, 0);
  }

  /** Draws again after the scene changed. */
  draw(): void {
    this.still = null;
    this.layer.changed();
  }

  /** Takes the site's map; the first one is fitted to the window. */
  setMap(map: SiteMap, stations: readonly StationView[]): void {
    this.scene.map = map;
    this.scene.stations = stations;
    this.scene.index = new RunIndex(map.runs);
    this.host.dataset["stations"] = String(stations.length);
    this.host.dataset["runs"] = String(map.runs.length);
    if (!this.fitted && map.min && map.max) {
      this.fitted = true;
      this.fitAll();
    }
    this.draw();
  }

  /** Shows these runs strong. */
  light(runs: Iterable<string>): void {
    this.scene.lit = new Set(runs);
    this.draw();
  }

  /** Stands the little staff here. */
  mark(place: Place | null): void {
    this.scene.mark = place;
    this.host.dataset["mark"] = place === null ? "" : `${place.easting} ${place.northing}`;
    this.draw();
  }

  /** The middle of the view: where the cross is. */
  middle(): Place {
    const [easting, northing] = this.map.getView().getCenter() as [number, number];
    return { easting, northing };
  }

  /** Puts a place in the middle. */
  centreOn(place: Place): void {
    this.map.getView().setCenter([place.easting, place.northing]);
  }

  /** Moves the middle by a number of pixels, for keys beside every drag. */
  zoom(factor: number): void {
    const view = this.map.getView();
    view.setResolution(Math.min(200, Math.max(1e-5, this.resolution() * factor)));
  }

  /** Fits a box in the window. */
  fit(min: readonly number[], max: readonly number[], margin = 48): void {
    this.map.updateSize();
    const size = this.map.getSize();
    if (!size || (size[0] ?? 0) < 10 || (size[1] ?? 0) < 10) {
      this.waiting = () => this.fit(min, max, margin);
      return;
    }
    const [w, h] = [Math.max((max[0] as number) - (min[0] as number), 1), Math.max((max[1] as number) - (min[1] as number), 1)];
    const room = Math.min(margin, (size[0] as number) / 6, (size[1] as number) / 6);
    // The keys stand at the right: leave them more room, so that no end of a run lies under them.
    const right = Math.max(room, Math.min(78, (size[0] as number) / 4));
    const resolution = Math.max(w / ((size[0] as number) - room - right), h / ((size[1] as number) - 2 * room), 1e-5);
    const view = this.map.getView();
    view.setResolution(resolution);
    view.setCenter([((min[0] as number) + (max[0] as number) + (right - room) * resolution) / 2, ((min[1] as number) + (max[1] as number)) / 2]);
  }

  /** Fits the places given. */
  fitPlaces(places: readonly (readonly number[])[], margin = 60): void {
    if (places.length === 0) return;
    const min = [Infinity, Infinity];
    const max = [-Infinity, -Infinity];
    for (const at of places) {
      for (const k of [0, 1]) {
        min[k] = Math.min(min[k] as number, at[k] as number);
        max[k] = Math.max(max[k] as number, at[k] as number);
      }
    }
    this.fit(min, max, margin);
  }

  /** The whole site. */
  fitAll(): void {
    const map = this.scene.map;
    if (map?.min && map.max) this.fit(map.min, map.max);
  }

  /** Takes away what a door put on the plan. */
  reset(): void {
    this.scene.lit = new Set();
    this.scene.mark = null;
    this.host.dataset["mark"] = "";
    this.scene.sketch = null;
    this.scene.dig = null;
    this.scene.preview = null;
    this.scene.points = [];
    this.scene.trial = null;
    this.scene.taped = null;
    this.scene.circles = [];
    this.scene.cross = false;
    this.onTap = null;
    this.draw();
  }
}
