// The Book: every entry with its author and date, what verifying proves, and taking an entry back with a reason.

import { api } from "./api";
import type { Context } from "./context";
import { append, button, el, put } from "./dom";
import { byField, EntryId, field, keepBy, need, Outcome, perform } from "./form";
import { dateWords, headShort } from "./format";
import type { EntryView, JournalView, VerifyView } from "./wire";

const PAGE = 40;

/** Opens the Book; an entry's number in the address shows the book from that entry back. */
export function book(context: Context): void {
  const { site, page } = context;
  const from = Number(context.rest[0]);
  const list = el("div");
  const verified = el("div", { "aria-live": "polite" });
  const older = button("Older entries", () => void load(oldest), "plain");
  let oldest: number | undefined = Number.isInteger(from) && from > 0 ? from + 1 : undefined;
  const load = async (before: number | undefined): Promise<void> => {
    older.disabled = true;
    try {
      const journal: JournalView = await api.journal(site.id, before, PAGE);
      for (const entry of journal.entries) list.append(entryNode(context, entry));
      oldest = journal.entries.at(-1)?.n;
      older.hidden = oldest === undefined || oldest <= 1 || journal.entries.length === 0;
      if (list.childElementCount === 0) put(list, el("p.empty", {}, "Nothing is in the book yet."));
    } catch (cause) {
      list.append(el("p.refused", {}, cause instanceof Error ? cause.message : String(cause)));
    }
    older.disabled = false;
  };
  const key: HTMLButtonElement = button("Verify the book", () => void check(), "ink");
  const check = async (): Promise<void> => {
    key.disabled = true;
    put(verified, el("p.quiet", {}, "Replaying every entry and comparing."));
    try {
      put(verified, verifyNode(await api.verify(site.id)));
    } catch (cause) {
      put(verified, el("p.refused", {}, cause instanceof Error ? cause.message : String(cause)));
    }
    key.disabled = false;
  };
  const head = el("p.hex");
  const news = el("div", { role: "status" });
  const paint = (): void => {
    if (site.view) head.textContent = `Head ${site.view.head.n}:${site.view.head.hex}`;
  };
  paint();
  let shownHead = site.view?.head.n ?? 0;
  context.onLeave(site.onChange((what) => {
    if (what !== "view") return;
    paint();
    if ((site.view?.head.n ?? 0) > shownHead) {
      put(news, button("New entries: show them", () => {
        shownHead = site.view?.head.n ?? 0;
        put(list);
        put(news);
        void load(undefined);
      }));
    }
  }));
  append(page, [
    el("h1", {}, "The Book"),
    el("p", {}, "Nothing here is ever overwritten. A mistake is put right by a new entry that says why."),
    head,
    el("div.acts", {}, key, el("a.door-link", { href: api.exportUrl(site.id, "geojson"), download: "" }, "GeoJSON"), el("a.door-link", { href: api.exportUrl(site.id, "csv"), download: "" }, "CSV"), el("a.door-link", { href: context.href("legend") }, "How to read the plan")),
    verified,
    el("details.more", {}, el("summary", {}, "Write a remark in the book"), noteForm(context)),
    context.rest[0] !== undefined && el("p", {}, el("a", { href: context.href("book") }, "From the newest entry")),
    news, list, el("div.acts", {}, older),
  ]);
  void load(oldest);
}

function entryNode(context: Context, entry: EntryView): HTMLElement {
  const below = el("div");
  const raw = el("details.more", {}, el("summary", {}, "The entry as it is stored"));
  raw.addEventListener("toggle", () => {
    if (raw.open && raw.childElementCount === 1) {
      const text = JSON.stringify(entry.body, null, 1) ?? "";
      raw.append(el("pre", { tabindex: 0 }, text.length > 20000 ? `${text.slice(0, 20000)}\n... ${text.length - 20000} more characters` : text),
        el("p.hex", {}, `id ${entry.id}`), el("p.hex", {}, `head ${entry.head}`));
    }
  });
  return el("article.entry", { "data-withdrawn": entry.withdrawn, "data-n": entry.n },
    el("span.entry-n", {}, entry.n),
    el("div", {},
      el("p.entry-says", {}, entry.says),
      el("p.entry-facts", {}, `${entry.kind} by ${entry.by}, ${dateWords(entry.observed_at)}; recorded ${dateWords(entry.recorded_at)} UTC on ${entry.device}`),
      entry.withdrawn !== null && el("p.caution", {}, `Taken back: ${entry.withdrawn}`),
      raw,
      entry.withdrawn === null && entry.kind !== "SiteOpened" && entry.kind !== "EntryWithdrawn"
        && button("Take this entry back", () => put(below, withdrawForm(context, entry, () => put(below))), "word"),
      below));
}

function withdrawForm(context: Context, entry: EntryView, close: () => void): HTMLElement {
  const reason = field("Why", { hint: "The entry stays readable; the reason is shown beside it for ever." });
  const by = byField();
  const outcome = new Outcome();
  const key = button(`Write "entry ${entry.n} withdrawn" in the book`, () => void act(), "ink");
  const written = new EntryId();
  const act = async (): Promise<void> => {
    const why = need(reason, "an entry is only taken back with a reason");
    const who = why === null ? null : need(by, "the book shows who took it back");
    if (who === null) return;
    keepBy(who);
    await perform(outcome, key, "Taking the entry back.", () => written.send((id) => api.withdraw(context.site.id, { id, entry: entry.id, reason: why, by: who })),
      (view) => `The book is now at ${headShort(view.head)}.`);
    await context.site.refresh();
  };
  return el("form.form", { submit: (e) => { e.preventDefault(); void act(); } }, reason.node, by.node,
    el("div.acts", {}, key, button("Leave it", close)), outcome.node);
}

function noteForm(context: Context): HTMLElement {
  const text = field("Remark", { mode: "area", rows: 3, hint: "Found something elsewhere than recorded? Say where, how deep, and who saw it." });
  const about = field("About", { hint: "A run, point or area; may be left blank." });
  const by = byField();
  const outcome = new Outcome();
  const key = button("Write it", () => void act(), "ink");
  const written = new EntryId();
  const act = async (): Promise<void> => {
    const said = need(text, "write the remark");
    const who = said === null ? null : need(by, "the book shows who wrote it");
    if (who === null) return;
    keepBy(who);
    await perform(outcome, key, "Writing the remark.", () => written.send((id) => api.note(context.site.id, { id, text: said, about: about.text() || null, by: who })),
      (view) => `The book is now at ${headShort(view.head)}.`);
    await context.site.refresh().catch(() => undefined);
  };
  return el("form.form", { submit: (e) => { e.preventDefault(); void act(); } }, text.node, about.node, by.node, el("div.acts", {}, key), outcome.node);
}

function verifyNode(v: VerifyView): HTMLElement {
  return el("section", {},
    el("h2", {}, v.holds ? "The chain holds" : "The chain does not hold"),
    v.faults.map((text) => el("p.refused", {}, text)),
    el("h3.small-title", {}, "Proven"), el("ul.plain", {}, v.proven.map((text) => el("li", {}, text))),
    el("h3.small-title", {}, "Not proven"), el("ul.plain", {}, v.not_proven.map((text) => el("li.caution", {}, text))),
    el("p.hex", {}, `Head ${v.head.n}:${v.head.hex}`));
}
