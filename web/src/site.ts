// The site that is open: what the server last said of it, kept current by its events.

import { api } from "./api";
import type { RunCard, SiteMap, SiteView, StationView } from "./wire";

export type Link = "joining" | "live" | "lost";

export class OpenSite {
  view: SiteView | null = null;
  map: SiteMap | null = null;
  stations: StationView[] = [];
  link: Link = "joining";
  private events: EventSource | null = null;
  private readonly listeners = new Set<(what: "view" | "link") => void>();
  private loading: Promise<void> | null = null;
  private again = false;
  private readonly cards = new Map<string, Promise<RunCard>>();

  constructor(readonly id: string) {}

  /** Loads the site and listens for new entries. */
  async start(): Promise<void> {
    await this.refresh();
    this.events = new EventSource(api.eventsUrl(this.id));
    this.events.addEventListener("open", () => {
      this.setLink("live");
      // Entries may have come in while nobody listened.
      void this.refresh().catch(() => this.setLink("lost"));
    });
    this.events.addEventListener("error", () => this.setLink("lost"));
    this.events.addEventListener("head", (event) => {
      let n = -1;
      try {
        n = (JSON.parse((event as MessageEvent<string>).data) as { n: number }).n;
      } catch {
        // A head that cannot be read still says that something changed.
      }
      if (n !== this.view?.head.n) void this.refresh().catch(() => this.setLink("lost"));
    });
  }

  /** Stops listening. */
  stop(): void {
    this.events?.close();
    this.listeners.clear();
  }

  private setLink(link: Link): void {
    if (this.link === link) return;
    this.link = link;
    for (const tell of this.listeners) tell("link");
  }

  /** Asks for the site again; calls that come while one is under way share the next. */
  refresh(): Promise<void> {
    if (this.loading) {
      this.again = true;
      return this.loading;
    }
    this.loading = (async () => {
      try {
        do {
          this.again = false;
          const [view, map] = await Promise.all([api.site(this.id), api.map(this.id)]);
          // Most sites have none: they are asked for only when the book counts one.
          this.stations = view.counts.stations > 0 ? await api.stations(this.id) : [];
          this.view = view;
          this.map = map;
          this.cards.clear();
        } while (this.again);
      } finally {
        this.loading = null;
      }
      for (const tell of this.listeners) tell("view");
    })();
    return this.loading;
  }

  /** A run's card, asked for once a head and surface. */
  card(run: string, surface?: string): Promise<RunCard> {
    const key = `${surface ?? ""}\n${run}`;
    let found = this.cards.get(key);
    if (!found) {
      found = api.run(this.id, run, surface);
      found.catch(() => this.cards.delete(key));
      this.cards.set(key, found);
    }
    return found;
  }

  /** Calls back on every change; gives the way to stop it. */
  onChange(tell: (what: "view" | "link") => void): () => void {
    this.listeners.add(tell);
    return () => this.listeners.delete(tell);
  }
}
