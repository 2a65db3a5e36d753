// A file on its way into the book: read by the server, shown on the plan, questioned, and only then recorded.

import { api, freshEntryId, NoAnswer, Refused, Stopped, type ImportAsk, type Progress } from "./api";
import type { Context } from "./context";
import { append, button, el, put } from "./dom";
import { byField, choice, field, keepBy, need, Outcome, select, type Choice, type Field } from "./form";
import { bytesWords, count, headShort, levelText, slugWords } from "./format";
import { allServices } from "./services";
import { touchedPicture } from "./symbols";
import { ANGLE_UNITS } from "./angles";
import { levelBook } from "./level-book";
import { doubtWord, drawStation, stationAnswer } from "./station-answer";
import { COMMON, FIGURES } from "./station-draft";
import type { FindingView, ImportPreview } from "./wire";

const KINDS: Record<string, { name: string; columns: string[]; hint: string }> = {
  points: {
    name: "Measured points", hint: "CSV with a header: point, easting, northing, level, touched, and run, service, sizes, sigmas as you have them.",
    columns: ["point", "easting", "northing", "level", "touched", "run", "order", "service", "fitting", "size_mm", "outside_mm", "wall_mm", "sigma_h_mm", "sigma_v_mm", "known", "observed_at", "by", "note"],
  },
  control: { name: "Control", hint: "CSV: point, easting, northing, level, sigma_h_mm, sigma_v_mm.", columns: ["point", "easting", "northing", "level", "sigma_h_mm", "sigma_v_mm", "note"] },
  surface: { name: "Surface", hint: "CSV: easting, northing, level, breakline, boundary, hole.", columns: ["point", "easting", "northing", "level", "sigma_v_mm", "breakline"] },
  observations: {
    name: "Observations", hint: "CSV with a header: target, kind (control, check, shot), direction, zenith, slope, target_height, prism_mm, face; for shots touched, run, service.",
    columns: ["station", "target", "kind", "direction", "zenith", "slope", "target_height", "prism_mm", "face", "touched", "run", "order", "service", "note"],
  },
  levels: { name: "A level book", hint: "CSV with a header: point, back, inter, fore, known_level, distance, note.", columns: ["point", "back", "inter", "fore", "known_level", "distance", "touched", "note"] },
  ties: {
    name: "Points by tape", hint: "CSV: point, touched, from_1, distance_1, from_2, distance_2, from_3, distance_3 to check, side, tape_sigma_mm, and how the level is known.",
    columns: ["point", "touched", "side", "run", "service", "known", "note"],
  },
  offsets: { name: "Offsets from a line", hint: "CSV: point, touched, line_from, line_to, chainage, offset, side, and how the level is known.", columns: ["point", "touched", "line_from", "line_to", "chainage", "offset", "side", "run", "service", "known", "note"] },
  satellite: { name: "Satellite positions", hint: "CSV: point, touched, easting, northing, fix, horizontal, vertical, means, and how the level is known.", columns: ["point", "touched", "easting", "northing", "fix", "run", "service", "known", "note"] },
  detected: { name: "Detected, not seen", hint: "CSV: point, touched, easting, northing, depth, below, method, percent, constant, across, means.", columns: ["point", "touched", "easting", "northing", "depth", "below", "method", "run", "service", "note"] },
  searched: { name: "Searched areas", hint: "CSV: area, easting, northing in order, services, method, down_to_depth and surface or down_to_level, outcome.", columns: ["area", "easting", "northing", "services", "method", "outcome"] },
  expected: { name: "Expected runs", hint: "CSV: run, service, from, to, size_mm, count.", columns: ["run", "service", "from", "to", "size_mm", "count"] },
};

export const TOUCHED: [string, string][] = [
  ["outside-top", "outside top"], ["invert", "invert"], ["centre", "centre"], ["outside-bottom", "outside bottom"], ["side", "side"], ["ground", "ground"], ["other", "something else"],
];
export const SURFACE_KINDS: [string, string][] = [
  ["existing", "existing, as found"], ["stripped", "stripped"], ["formation", "formation"], ["finished-design", "finished, as designed"], ["finished-built", "finished, as built"],
];

/** Opens the import of one kind of file. */
export function importFile(context: Context, kind: string): void {
  const what = KINDS[kind] ?? (KINDS["points"] as (typeof KINDS)[string]);
  const { page } = context;
  const input = el("input", { type: "file", accept: ".csv,.txt,.tsv,text/csv,text/plain", "aria-label": `File of ${what.name.toLowerCase()}` });
  const drop = el("label.drop", {}, el("strong", {}, "Choose a file"), el("span.quiet", {}, what.hint), input);
  const stage = el("div");
  let ask: Ask | null = null;
  const take = (file: File | undefined): void => {
    if (!file) return;
    ask = new Ask(context, kind, file, stage);
    ask.begin();
  };
  input.addEventListener("change", () => take(input.files?.[0]));
  drop.addEventListener("dragover", (e) => e.preventDefault());
  drop.addEventListener("drop", (e) => {
    e.preventDefault();
    take(e.dataTransfer?.files[0]);
  });
  context.onLeave(() => ask?.stop());
  append(page, [el("h1", {}, what.name), el("p.quiet", {}, "Nothing is recorded until you have seen it and said so."), drop, stage]);
}

/** One file and what has been answered about it. */
class Ask {
  private readonly options: Record<string, string> = {};
  private stopper: AbortController | null = null;
  private readonly questions = el("div");
  private readonly result = el("div", { "aria-live": "polite" });
  private fields: { key: string; read: () => string }[] = [];
  private touched: Choice | null = null;
  private by: Field | null = null;

  constructor(private readonly context: Context, private readonly kind: string, private readonly file: File, stage: HTMLElement) {
    put(stage, this.questions, this.result);
    this.makeQuestions();
  }

  stop(): void {
    this.stopper?.abort();
  }

  private makeQuestions(): void {
    const again = (): void => void this.look();
    const add = (key: string, f: Field): HTMLElement => {
      this.fields.push({ key, read: () => f.text() });
      if (this.kind !== "observations" && this.kind !== "levels") f.input.addEventListener("change", again);
      return f.node;
    };
    const nodes: HTMLElement[] = [];
    if (this.kind === "points") {
      this.touched = choice("What was the pole standing on, where the file does not say?", TOUCHED.map(([value, text]) => ({ value, text, picture: touchedPicture(value) })));
      this.touched.onChange(again);
      this.fields.push({ key: "touched", read: () => this.touched?.value() ?? "" });
      nodes.push(el("details.more", {}, el("summary", {}, "What the file does not say"),
        this.touched.node,
        add("known", select("How it is known", [["seen-checked", "seen open, and checked"], ["seen", "seen open"], ["traced", "traced with a detector"], ["drawn", "taken from records"], ["assumed", "assumed"]], { blank: "As the file says" })),
        add("service", select("Service", allServices().map((s) => [s.slug, `${s.letters}  ${s.name}`]), { blank: "As the file says" })),
        add("unit", select("Unit of coordinates", [["m", "metres"], ["ft", "international feet"], ["usft", "US survey feet"], ["mm", "millimetres"]], { blank: "As the header says" })),
        add("prefix", field("Put before every point's name", { hint: "When the same numbers were used before." }))));
    } else if (this.kind === "observations") {
      nodes.push(...this.observationQuestions(add));
    } else if (this.kind === "levels") {
      nodes.push(
        add("book", field("Name of the book", { hint: "Unique on the site." })),
        el("div.pair", {},
          add("allowable_k_mm", field("k of the allowable misclosure", { unit: "mm", mode: "decimal", hint: "Blank: the misclosure is not judged." })),
          add("setup_sigma_mm", field("Standard deviation of one set-up", { unit: "mm", mode: "decimal", hint: "Blank: no level has an uncertainty." }))),
        add("by_setups", select("k is for each", [["0", "root of a kilometre"], ["1", "root of a set-up"]], { blank: "Say which" })),
        add("spread", select("The misclosure is", [["not-spread", "not spread"], ["by-setups", "spread by set-ups"], ["by-distance", "spread by distance"]], { blank: "Say which" })));
    } else if (this.kind === "surface") {
      nodes.push(add("name", field("Name of the surface")), add("surface_kind", select("What it is", SURFACE_KINDS, { blank: "Say which" })),
        add("observed_at", field("When it was observed", { mode: "date" })));
    }
    put(this.questions, nodes);
  }

  private observationQuestions(add: (key: string, f: Field) => HTMLElement): HTMLElement[] {
    const names = { distance_mm: ["Distance", "mm"], distance_ppm: ["and for each kilometre", "mm (ppm)"], direction_sec: ["Direction", "seconds"], zenith_sec: ["Zenith angle", "seconds"] } as const;
    const figures = FIGURES.slice(0, 4).map((k) => [k, field(names[k as keyof typeof names][0], { unit: names[k as keyof typeof names][1], mode: "decimal" })] as const);
    const assumed = el("div", { role: "status" });
    const paint = (): void => put(assumed, figures.every(([k, f]) => f.text() === COMMON[k]) && el("p.caution", {}, doubtWord("assumed"), " Common-practice figures, from memory of the trade; the data sheet governs."));
    for (const [, f] of figures) f.input.addEventListener("input", paint);
    return [
      add("station", field("Name of the station", { hint: "Where the file does not name it." })),
      add("angles", select("How are the angles written?", ANGLE_UNITS.map((u) => [u.value, `${u.name}, as ${u.example}`]), { blank: "Say which" })),
      el("details.more", { open: true }, el("summary", {}, "How good the instrument is"), el("div.pair", {}, figures.map(([k, f]) => add(k, f))),
        el("div.acts", {}, button("Take common figures, marked as assumed", () => {
          for (const [k, f] of figures) f.input.value = COMMON[k];
          paint();
        })), assumed, el("p.quiet", {}, "Left blank, the server assumes the same and says so. Target height and centring count 1 mm each, assumed.")),
      el("details.more", {}, el("summary", {}, "The check"),
        add("tolerance_mm", field("Largest difference accepted", { unit: "mm", mode: "decimal", hint: "Blank: 3 mm, common practice for millimetre work." })),
        add("unchecked_reason", field("Why it is used without a passed check", { hint: "Only where none was passed." }))),
    ];
  }

  /** Asks at once where nothing has to be said first; else waits for the answers. */
  begin(): void {
    if (this.kind !== "observations" && this.kind !== "levels") return void this.look();
    this.questions.append(el("div.acts", {}, button("Read the file", () => void this.look(), "ink", { "data-act": "read" })));
    put(this.result, el("p.quiet", {}, `${this.file.name} is chosen. Say above what it does not say, then read it.`));
  }

  private asked(dryRun: boolean): ImportAsk {
    const options = { ...this.options };
    for (const { key, read } of this.fields) {
      const value = read();
      if (value) options[key] = value;
    }
    return { as: this.kind, file: this.file.name, options, dryRun };
  }

  /** Sends the file to be read, and shows what it would record. */
  async look(): Promise<void> {
    this.stop();
    const done = await this.send(true);
    if (done) this.show(done);
  }

  private async send(dryRun: boolean): Promise<(ImportPreview) | null> {
    const stopper = new AbortController();
    this.stopper = stopper;
    const began = performance.now();
    const fill = el("div.progress-fill");
    const track = el("div.progress-track", { role: "progressbar", "aria-label": "File sent", "aria-valuemin": 0, "aria-valuemax": 100 }, fill);
    const words = el("p.quiet");
    const before = this.context.site.view?.head.n ?? 0;
    put(this.result, el("div.progress", {}, track, words, el("div.acts", {}, button("Stop", () => {
      // It stands where the key before it stood: the second tap of two is not meant for it.
      if (performance.now() - began > 700) stopper.abort();
    }))));
    const seconds = (): string => `${((performance.now() - began) / 1000).toFixed(0)} s`;
    let stageNow: Progress = { stage: "sending", sent: 0, of: this.file.size };
    const paint = (): void => {
      if (stageNow.stage === "sending") {
        const share = stageNow.of > 0 ? stageNow.sent / stageNow.of : 0;
        fill.style.width = `${share * 100}%`;
        track.setAttribute("aria-valuenow", String(Math.floor(share * 100)));
        words.textContent = `Sending ${bytesWords(stageNow.sent)} of ${bytesWords(stageNow.of)}, ${seconds()}.`;
      } else {
        track.dataset["stage"] = "reading";
        track.setAttribute("aria-valuenow", "100");
        words.textContent = dryRun ? `Sent. The server is reading it, ${seconds()}.` : `Sent. The server is writing it in the book, ${seconds()}.`;
      }
    };
    const clock = setInterval(paint, 500);
    paint();
    try {
      return await api.importFile(this.context.site.id, this.asked(dryRun), this.file, (p) => {
        stageNow = p;
        paint();
      }, stopper.signal);
    } catch (cause) {
      const outcome = new Outcome();
      if (dryRun || stageNow.stage === "sending" && cause instanceof Stopped) outcome.failed(cause, () => void this.look());
      else if (cause instanceof Stopped || cause instanceof NoAnswer) {
        // The whole file had gone: only the book can say whether it was written.
        await this.context.site.refresh().catch(() => undefined);
        const now = this.context.site.view?.head.n ?? before;
        outcome.failed(new Error(now > before
          ? `The connection ended while the server was writing, and the book has grown from entry ${before} to ${now}: look there before sending again.`
          : `The connection ended while the server was writing. The book was still at entry ${now} a moment ago: look there before sending again.`));
      } else outcome.failed(cause);
      if (cause instanceof Refused) delete this.options["import_id"];
      put(this.result, outcome.node, el("div.acts", {}, button("Read the file again", () => void this.look())));
      return null;
    } finally {
      clearInterval(clock);
      if (this.stopper === stopper) this.stopper = null;
    }
  }

  private show(p: ImportPreview): void {
    const { plan } = this.context;
    plan.scene.preview = p;
    plan.draw();
    const places = [...p.points.map((q) => q.at), ...p.runs.flatMap((r) => r.line)];
    if (places.length > 0) plan.fitPlaces(places);
    plan.scene.trial = null;
    if (p.station) drawStation(this.context, p.station);
    const refusals = p.findings.filter((f) => f.severity === "refusal").length;
    const outcome = new Outcome();
    this.by = byField();
    const key: HTMLButtonElement = button(`Record ${count(p.rows, "row")} in the book`, () => void this.record(p, key, outcome), "ink", { disabled: !p.accepted || p.order_needed, "data-act": "record" });
    put(this.result,
      el("h2", {}, this.file.name),
      el("p.says", { "data-role": "preview-says" }, p.says),
      p.points.length > 0 && el("p.quiet", {}, `${count(p.points.length, "point")} crossed on the plan${p.points.length < p.rows ? `, the first of ${p.rows}` : ""}. None of it is recorded yet.`),
      p.station && el("section", {}, el("h2", {}, `Station ${p.station.station}`), stationAnswer(p.station)),
      p.levels && el("section", {}, el("h2", {}, `Level book ${p.levels.book}`), levelBook(p.levels)),
      p.order_needed && this.orderQuestion(p),
      extent(p),
      p.findings.length > 0 && el("section", {}, el("h2", {}, refusals > 0 ? `${count(refusals, "thing")} to mend first` : "Look at these"),
        el("ul.plain.findings", {}, p.findings.map(finding)),
        p.findings_left_off > 0 && el("p", {}, `and ${p.findings_left_off} more.`)),
      !p.order_needed && p.columns.length > 0 && el("details.more", {}, el("summary", {}, "How the columns were read"),
        p.columns.map((c) => el("div.column-row", {}, el("div", {}, el("strong", {}, c.header), el("div.samples", {}, c.samples.join(", "))), el("div", {}, c.read_as ? slugWords(c.read_as.replaceAll("_", " ")) : "kept as a note")))),
      p.runs.length > 0 && el("details.more", {}, el("summary", {}, `${count(p.runs.length, "run")} it would lay`),
        el("ul.plain", {}, p.runs.map((r) => el("li.legend-row", {}, el("strong", {}, r.run), el("span", {}, `${r.service ?? "service not stated"}, ${count(r.points, "point")}`))))),
      // Nothing can be recorded while the columns are in question: the key would only stand in the way.
      !p.order_needed && [this.by.node, el("div.acts", {}, key)], outcome.node);
    if (p.findings.some((f) => /touched/.test(`${f.code} ${f.column ?? ""}`))) this.questions.querySelector("details")?.setAttribute("open", "");
    this.context.say(p.says);
  }

  /** A file without a header: each column is named by the person, none beforehand. */
  private orderQuestion(p: ImportPreview): HTMLElement {
    const columns = KINDS[this.kind]?.columns ?? [];
    const lists = p.columns.map((c) => {
      const list = select(c.header, [...columns.map((name): [string, string] => [name, slugWords(name.replaceAll("_", " "))]), ["-", "not used"]], { blank: "Say what this is" });
      return { list, samples: c.samples, usual: columns.includes(c.read_as ?? "") ? (c.read_as as string) : null };
    });
    const wrong = el("p.field-wrong", { role: "alert" });
    return el("section", {},
      el("h2", {}, "Which column is which?"),
      el("p", {}, "The file has no header. Easting and northing are easily taken for one another: look at the figures."),
      lists.some((l) => l.usual !== null) && el("div.acts", {}, button(`Take them as ${lists.map((l) => l.usual ?? "not used").join(", ")}`, () => {
        for (const { list, usual } of lists) list.input.value = usual ?? "-";
      })),
      lists.map(({ list, samples }) => el("div.column-row", {}, el("div.samples", {}, samples.join(", ")), list.node)),
      wrong,
      el("div.acts", {}, button("Read it so", () => {
        const order = lists.map(({ list }) => list.text());
        if (order.includes("")) {
          wrong.textContent = "say what every column is, or that it is not used";
          return;
        }
        this.options["order"] = order.join(",");
        void this.look();
      }, "ink")));
  }

  private async record(p: ImportPreview, key: HTMLButtonElement, outcome: Outcome): Promise<void> {
    const by = this.by;
    const who = by ? need(by, "the book shows who recorded it") : null;
    if (who === null || key.disabled) return;
    keepBy(who);
    key.disabled = true;
    outcome.waiting("");
    this.options["by"] = who;
    // One id until the book has it or refused it: sending again after a broken connection then changes nothing.
    this.options["import_id"] ??= freshEntryId();
    const done = await this.send(false);
    if (!done) return;
    const { plan, site } = this.context;
    plan.scene.preview = null;
    plan.scene.trial = null;
    await site.refresh().catch(() => undefined);
    outcome.sent(done.says);
    put(this.result, outcome.node,
      el("p", { "data-role": "recorded" }, `${count(done.entries, "entry", "entries")} written from ${p.file}. The book is at ${site.view ? headShort(site.view.head) : ""}.`),
      done.findings.length > 0 && el("ul.plain.findings", {}, done.findings.map(finding)),
      el("div.acts", {}, el("a.door-link", { href: this.context.href("cover") }, "Check before cover"), el("a.door-link", { href: this.context.href("book") }, "See it in the book")));
    put(this.questions);
  }
}

function extent(p: ImportPreview): HTMLElement | null {
  if (!p.min || !p.max) return null;
  const span = (k: 0 | 1 | 2): string => `${levelText(p.min?.[k] ?? 0)} to ${levelText(p.max?.[k] ?? 0)} m`;
  return el("dl.facts", {}, el("dt", {}, "Easting"), el("dd", {}, span(0)), el("dt", {}, "Northing"), el("dd", {}, span(1)), el("dt", {}, "Level"), el("dd", {}, span(2)));
}

function finding(f: FindingView): HTMLElement {
  const where = [f.row === null ? null : `row ${f.row}`, f.column === null ? null : `column ${f.column}`].filter((x) => x !== null).join(", ");
  return el("li", { "data-severity": f.severity }, where && el("span.where", {}, where), f.says);
}
