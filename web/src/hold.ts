// The hold point: what is about to be covered, the list that says whether it can be, and what a person decides on it.

import { api, freshEntryId } from "./api";
import type { Context } from "./context";
import { cautions } from "./dig-answer";
import { append, button, el, put } from "./dom";
import { byField, choice, EntryId, field, keepBy, need, Outcome, type Field } from "./form";
import { count, headShort, slugWords } from "./format";
import type { Place } from "./project";
import { Sketch } from "./sketch";
import { surfaceField } from "./surface-choice";
import type { HoldAnswer, HoldItem, HoldQuestion, HoldState, ReleaseView } from "./wire";

/** What a person has said so far; kept in the browser, so that a phone put away loses nothing. */
interface Draft {
  area: string;
  kind: string;
  places: Place[];
  runs: string;
  reasons: Record<string, string>;
  statement: string;
}

const blank = (): Draft => ({ area: "", kind: "area", places: [], runs: "", reasons: {}, statement: "" });
const key = (site: string): string => `coverbook.hold.${site}`;

function kept(site: string): Draft {
  try {
    return { ...blank(), ...(JSON.parse(localStorage.getItem(key(site)) ?? "{}") as Partial<Draft>) };
  } catch {
    return blank();
  }
}

const keep = (site: string, draft: Draft): void => localStorage.setItem(key(site), JSON.stringify(draft));

/** Opens the room. */
export function hold(context: Context): void {
  append(context.page, [el("a.back", { href: context.href("cover") }, "Before cover")]);
  ask(context, kept(context.site.id));
}

function ask(context: Context, draft: Draft): void {
  const { site, plan } = context;
  const body = el("div");
  const area = field("Name of the pour or trench length", { value: draft.area });
  const kind = choice("What is about to be covered", [
    { value: "area", text: "All that lies in an outline" }, { value: "runs", text: "Runs by name" }, { value: "site", text: "Every run of the site" },
  ], draft.kind);
  const sketch = new Sketch(plan, true, 0, "Touch the plan round what is about to be covered, or paste corners here.");
  sketch.set(draft.places);
  const runs = field("Runs, with a comma between", { value: draft.runs, placeholder: site.map?.runs[0]?.run ?? "" });
  const surface = surfaceField(context, "The only one recorded, if there is just one", () => undefined);
  const outcome = new Outcome();
  const show = button("Show the list", () => void act(), "ink", { "data-act": "hold" });
  const paint = (): void => {
    sketch.node.hidden = kind.value() !== "area";
    runs.node.hidden = kind.value() !== "runs";
  };
  kind.onChange(paint);
  const act = async (): Promise<void> => {
    const name = need(area, "name it, so that it can be found in the book");
    if (name === null) return;
    const places = kind.value() === "area" ? sketch.read(3) : [];
    if (places === null) return;
    const named = kind.value() === "runs" ? need(runs, "name at least one run") : "";
    if (named === null) return;
    const next: Draft = { ...draft, area: name, kind: kind.value(), places, runs: named };
    keep(site.id, next);
    const question: HoldQuestion = {
      area: name,
      ...(places.length > 0 ? { ring: places.map((p) => [p.easting.toFixed(3), p.northing.toFixed(3)]) } : {}),
      ...(named ? { runs: named.split(",").map((run) => run.trim()).filter((run) => run !== "") } : {}),
      ...(surface.text() ? { surface: surface.text() } : {}),
    };
    show.disabled = true;
    outcome.idle("Working it out.");
    try {
      const answer = await api.hold(site.id, question);
      plan.reset();
      showList(context, body, question, answer, next);
      context.say(answer.says);
    } catch (cause) {
      show.disabled = false;
      outcome.failedInView(cause);
    }
  };
  put(body, el("h1", {}, "Hold point"),
    el("p", {}, "Nothing is covered before this list is met, or somebody says by name why it may be covered all the same."),
    el("form.form", { submit: (e) => { e.preventDefault(); void act(); } },
      area.node, kind.node, sketch.node, runs.node, surface.node, el("div.acts", {}, show), outcome.node),
    el("div", { "data-role": "decisions" }));
  append(context.page, [body]);
  paint();
  void decisions(context, body.querySelector<HTMLElement>('[data-role="decisions"]') as HTMLElement);
}

/** Every decision made at this site, newest first. */
async function decisions(context: Context, node: HTMLElement): Promise<void> {
  try {
    const made = await api.releases(context.site.id);
    put(node, made.length > 0 && el("section", {}, el("h2", {}, "Decided"), releases(context, made)));
  } catch {
    put(node, el("p.quiet", {}, "The decisions made before cannot be shown: no answer came."));
  }
}

const releases = (context: Context, made: readonly ReleaseView[]): HTMLElement => el("ul.plain.findings", {},
  made.map((r) => el("li", { "data-severity": r.changed.length > 0 || r.withdrawn !== null ? "doubt" : null, "data-release": r.entry },
    el("span.where", {}, `${r.area}, entry ${r.entry}`), `${r.says}. `,
    r.withdrawn !== null && el("strong", {}, `Withdrawn: ${r.withdrawn}. `),
    r.changed.length > 0 && el("span", {}, el("strong", {}, "Changed since: "), `${r.changed.join("; ")}. `),
    el("a", { href: api.certificateUrl(context.site.id, r.entry), target: "_blank", rel: "noopener" }, "Certificate (PDF)"))));

const word = (state: HoldState | "accepted"): HTMLElement => el("span.verdict", { "data-verdict": state }, state === "passes" ? "met" : slugWords(state));

function showList(context: Context, body: HTMLElement, question: HoldQuestion, answer: HoldAnswer, draft: Draft): void {
  const { site, plan } = context;
  const open = answer.items.filter((i) => i.state !== "passes");
  const met = answer.items.filter((i) => i.state === "passes");
  const reasons = new Map<string, Field>();
  const left = el("p.quiet", { "aria-live": "polite", "data-role": "left" });
  const given = (): { item: string; reason: string }[] =>
    open.map((i) => ({ item: i.key, reason: reasons.get(i.key)?.text() ?? "" })).filter((a) => a.reason !== "");
  const again = (): void => {
    plan.reset();
    put(context.page);
    hold(context);
  };
  const afresh = async (): Promise<void> => {
    const now = await api.hold(site.id, question);
    showList(context, body, question, now, kept(site.id));
  };
  const paintLeft = (): void => {
    const missing = open.length - given().length;
    left.textContent = missing > 0 ? `${count(missing, "item")} still without a reason: until each has one, it cannot be released.`
      : open.length > 0 ? "Every open item has a reason: it can be released with exceptions." : "Every item is met.";
  };
  const row = (item: HoldItem): HTMLElement => {
    const reason = field("Reason why it may be covered all the same", { value: draft.reasons[item.key] ?? "" });
    reason.input.addEventListener("input", () => {
      draft.reasons[item.key] = reason.text();
      keep(site.id, draft);
      paintLeft();
    });
    reasons.set(item.key, reason);
    return el("details.run-block", { "data-item": item.key, toggle: () => look(context, item) },
      el("summary", {}, el("span"), el("span.name", {}, title(item)), word(item.state), el("span.row-small", {}, item.says)),
      el("div.inside", {}, item.code === "photo" && photo(context, item, afresh), reason.node, same(item, reason)));
  };
  /** One reason for several items of a kind, where each would say the same. */
  const same = (item: HoldItem, reason: Field): HTMLElement | false => {
    const others = open.filter((i) => i.code === item.code && i.key !== item.key);
    return others.length > 0 && el("div.acts", {}, button(`The same for ${count(others.length, "other item")} of this kind`, () => {
      for (const other of others) {
        const theirs = reasons.get(other.key);
        if (!theirs || theirs.text()) continue;
        theirs.input.value = reason.text();
        theirs.input.dispatchEvent(new Event("input"));
      }
    }));
  };
  const statement = field("Own words for the certificate", { mode: "area", rows: 2, value: draft.statement });
  statement.input.addEventListener("input", () => {
    draft.statement = statement.text();
    keep(site.id, draft);
  });
  const by = byField();
  const outcome = new Outcome();
  const entry = new EntryId();
  const decide = async (refused: boolean): Promise<void> => {
    const accepted = given();
    const first = open.find((i) => !accepted.some((a) => a.item === i.key));
    if (!refused && first) {
      const block = body.querySelector<HTMLDetailsElement>(`[data-item="${CSS.escape(first.key)}"]`);
      if (block) block.open = true;
      reasons.get(first.key)?.wrong("give a reason, or mend the record and ask again");
      return;
    }
    const who = need(by, "a hold point is released by a person, by name");
    if (who === null) return;
    keepBy(who);
    outcome.waiting("Recording the decision.");
    try {
      await entry.send((id) => api.release(site.id, {
        id, question, accepted, by: who, head: `${answer.head.n}:${answer.head.hex}`, ...(refused ? { outcome: "not-released" } : {}), ...(statement.text() ? { statement: statement.text() } : {}),
      }));
      localStorage.removeItem(key(site.id));
      await site.refresh().catch(() => undefined);
      const made = (await api.releases(site.id))[0];
      put(body, el("h1", {}, answer.area), made && el("p.says", { "data-role": "decided" }, made.says),
        made && el("p", {}, el("a.door-link", { href: api.certificateUrl(site.id, made.entry), target: "_blank", rel: "noopener" }, "Certificate (PDF)")),
        el("p.quiet", {}, "It is never edited. What changes after it stands beside it; to take it back, withdraw its entry in the Book."),
        el("div.acts", {}, button("Another hold point", again, "plain")));
      context.say(made?.says ?? "recorded");
    } catch (cause) {
      outcome.failedInView(cause, () => void decide(refused));
    }
  };
  put(body, el("h1", {}, answer.area),
    el("p.says", { "data-role": "says" }, answer.says),
    el("div.summary", {}, tally(open.filter((i) => i.state === "fails").length, "fail"), tally(open.filter((i) => i.state === "needs-reason").length, "need a reason"),
      tally(met.length, "met"), tally(answer.runs.length, "runs")),
    el("p.quiet", {}, answer.below === null ? `No cover can be given: ${answer.why["below"] ?? "no surface is recorded"}.` : `Covers below ${answer.below}.`),
    el("div.acts", {}, button("Change what is asked", again, "plain"), button("Look again", () => void afresh().catch((cause: unknown) => outcome.failed(cause)), "plain")),
    open.length > 0 && el("section", {}, el("h2", {}, "Open"), open.map(row)),
    met.length > 0 && el("details.more", {}, el("summary", {}, `${count(met.length, "item")} met`), el("ul.plain.findings", {},
      met.map((i) => el("li", {}, el("span.where", {}, title(i)), i.says)))),
    answer.releases.length > 0 && el("section", {}, el("h2", {}, "Decided before"), releases(context, answer.releases)),
    el("section", {}, el("h2", {}, "Decide"), left, statement.node, by.node,
      el("div.acts", {}, button("Release it", () => void decide(false), "ink", { "data-act": "release" }), button("Not released", () => void decide(true), "plain", { "data-act": "refuse" })), outcome.node),
    cautions(answer.cautions),
    el("p.quiet", {}, `From the book at ${headShort(answer.head)}.`));
  paintLeft();
  plan.light(answer.runs);
  if (answer.ring.length > 2) {
    plan.scene.sketch = { places: answer.ring.map(([easting, northing]) => ({ easting, northing })), closed: true, widthM: 0, chosen: null };
    plan.fitPlaces(answer.ring, 90);
  }
  context.page.scrollTop = 0;
  scrollTo(0, 0);
}

const tally = (many: number, text: string): HTMLElement => el("div", {}, el("span.many", {}, many), el("span.word", {}, text));

const TITLES: Record<string, string> = {
  runs: "Runs", expected: "Expected", cover: "Cover", fall: "Fall", end: "End", gap: "Gap", uncertainty: "Uncertainty", known: "How it is known", held: "Two versions",
  station: "Station", recheck: "Check after the last shot", suspect: "Suspect points", readings: "Readings", levels: "Level book", photo: "Photo", surface: "Surface",
  rules: "Rules", searched: "Searched", separation: "Separation",
};

const title = (item: HoldItem): string => `${TITLES[item.code] ?? slugWords(item.code)}${item.about ? ` ${item.about.replaceAll(":", ", ")}` : ""}`;

/** Shows where an item is: the place marked, its run strong. */
function look(context: Context, item: HoldItem): void {
  const run = item.about.split(":")[0] ?? "";
  if (context.site.map?.runs.some((r) => r.run === run)) context.plan.light([run]);
  if (item.at) {
    context.plan.scene.mark = { easting: item.at[0], northing: item.at[1] };
    context.plan.draw();
  }
}

/** Takes a photo, or chooses one, and attaches it to a run. */
function photo(context: Context, item: HoldItem, done: () => Promise<void>): HTMLElement {
  const outcome = new Outcome();
  const input = el("input.unseen", { type: "file", accept: "image/*", capture: "environment", "aria-label": `Photo of ${item.about}` });
  input.addEventListener("change", () => {
    const file = input.files?.[0];
    if (!file) return;
    const by = byField();
    const id = freshEntryId();
    const send = async (): Promise<void> => {
      const who = need(by, "the book shows who took it");
      if (who === null) return;
      keepBy(who);
      outcome.waiting(`Attaching ${file.name}.`);
      try {
        await api.attach(context.site.id, file, { file: file.name, about: item.about, by: who, id, observed_at: new Date(file.lastModified).toISOString() });
        await done();
      } catch (cause) {
        outcome.failed(cause, () => void send());
      }
    };
    put(asking, by.node, el("div.acts", {}, button(`Attach ${file.name}`, () => void send(), "ink")));
    if (by.text()) void send();
  });
  const asking = el("div");
  return el("div", {}, el("div.acts", {}, button("Take or choose a photo", () => input.click(), "ink", { "data-act": "photo" })), input, asking, outcome.node);
}
