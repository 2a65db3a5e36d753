// Every call to the server. Three ends are kept apart: answered, refused (with the server's reason), and not known
// (the connection broke, so nobody can say whether it arrived).

import type {
  AnewView, CoverAnswer, DigAnswer, DigQuestion, ErrorView, HoldAnswer, HoldQuestion, ImportPreview, JournalView, LevelsView, PointCard, ReleaseView, RuleSetView, RunCard,
  ServiceView, SiteMap, SiteSummary, SiteView, StationBody, StationView, VerifyView,
} from "./wire";

/** The server said no: nothing was changed. */
export class Refused extends Error {
  constructor(readonly status: number, readonly view: ErrorView) {
    super(view.message);
  }

  /** Where it went wrong, as `file, row 3, column easting`. */
  get where(): string {
    const at = this.view.where;
    if (!at) return "";
    return [at.file, at.row === null ? null : `row ${at.row}`, at.column === null ? null : `column ${at.column}`]
      .filter((part) => part !== null && part !== undefined)
      .join(", ");
  }
}

/** No answer came: it is not known whether the request arrived. */
export class NoAnswer extends Error {}

/** The person stopped it. */
export class Stopped extends Error {}

function refusal(status: number, text: string): Refused {
  try {
    const view: unknown = JSON.parse(text);
    if (view !== null && typeof view === "object" && "message" in view && typeof view.message === "string") {
      return new Refused(status, { code: "refused", where: null, ...view } as ErrorView);
    }
  } catch {
    // Not JSON: the text itself is all there is to say.
  }
  const message = text.trim().slice(0, 300) || `the server answered ${status} and gave no reason`;
  return new Refused(status, { code: "refused", message, where: null });
}

// A server that gave up or fell over may still have written: that is no refusal.
const unsure = (status: number): boolean => status === 408 || status >= 500;

function failure(status: number, text: string): Refused | NoAnswer {
  const said = refusal(status, text);
  return unsure(status) ? new NoAnswer(said.message) : said;
}

/** An id for an entry, made here (UUIDv7): sending the same entry twice then changes nothing. */
export function freshEntryId(now = Date.now()): string {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let time = now;
  for (let i = 5; i >= 0; i -= 1) {
    bytes[i] = time % 256;
    time = Math.floor(time / 256);
  }
  bytes[6] = ((bytes[6] as number) & 0x0f) | 0x70;
  bytes[8] = ((bytes[8] as number) & 0x3f) | 0x80;
  const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

async function ask(path: string, init?: RequestInit): Promise<Response> {
  let response: Response;
  try {
    response = await fetch(path, init);
  } catch (cause) {
    if (cause instanceof DOMException && cause.name === "AbortError") throw new Stopped("stopped");
    throw new NoAnswer("no answer from the server", { cause });
  }
  if (!response.ok) throw failure(response.status, await response.text());
  return response;
}

async function get<T>(path: string, signal?: AbortSignal): Promise<T> {
  const response = await ask(path, signal ? { signal } : undefined);
  return (await response.json()) as T;
}

async function post<T>(path: string, body: unknown, signal?: AbortSignal): Promise<T> {
  const response = await ask(path, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
    ...(signal ? { signal } : {}),
  });
  return (await response.json()) as T;
}

function query(values: Record<string, string | number | undefined>): string {
  const made = new URLSearchParams();
  for (const [key, value] of Object.entries(values)) {
    if (value !== undefined && value !== "") made.set(key, String(value));
  }
  const text = made.toString();
  return text ? `?${text}` : "";
}

const at = (site: string): string => `/api/sites/${encodeURIComponent(site)}`;

/** What an import is asked to do. */
export interface ImportAsk {
  as: string;
  file: string;
  options: Record<string, string>;
  dryRun: boolean;
}

/** How far an upload is. */
export type Progress = { stage: "sending"; sent: number; of: number } | { stage: "reading" };

export const api = {
  services: () => get<ServiceView[]>("/api/services"),
  rules: () => get<RuleSetView[]>("/api/rules"),
  sites: () => get<SiteSummary[]>("/api/sites"),
  openSite: (body: unknown) => post<SiteView>("/api/sites", body),
  site: (site: string) => get<SiteView>(at(site)),
  map: (site: string) => get<SiteMap>(`${at(site)}/map`),
  run: (site: string, run: string, surface?: string) =>
    get<RunCard>(`${at(site)}/runs/${encodeURIComponent(run)}${query({ surface })}`),
  cover: (site: string, surface?: string) => get<CoverAnswer>(`${at(site)}/cover${query({ surface })}`),
  journal: (site: string, before?: number, limit = 40) =>
    get<JournalView>(`${at(site)}/journal${query({ before, limit })}`),
  verify: (site: string) => get<VerifyView>(`${at(site)}/verify`),
  dig: (site: string, question: DigQuestion, signal?: AbortSignal) =>
    post<DigAnswer>(`${at(site)}/dig`, question, signal),
  hold: (site: string, question: HoldQuestion) => post<HoldAnswer>(`${at(site)}/hold`, question),
  releases: (site: string) => get<ReleaseView[]>(`${at(site)}/releases`),
  release: (site: string, body: unknown) => post<HoldAnswer>(`${at(site)}/releases`, body),
  certificateUrl: (site: string, entry: number) => `${at(site)}/releases/${entry}/certificate.pdf`,
  /** Attaches a file to something that is recorded; returns its SHA-256. */
  async attach(site: string, file: Blob, said: Record<string, string>): Promise<string> {
    const response = await ask(`${at(site)}/files${query(said)}`, { method: "POST", headers: { "content-type": "application/octet-stream" }, body: file });
    return (await response.json()) as string;
  },
  layRun: (site: string, body: unknown) => post<RunCard>(`${at(site)}/runs`, body),
  surface: (site: string, body: unknown) => post<SiteView>(`${at(site)}/surfaces`, body),
  searched: (site: string, body: unknown) => post<SiteView>(`${at(site)}/searched`, body),
  adoptRules: (site: string, body: unknown) => post<SiteView>(`${at(site)}/rules`, body),
  stations: (site: string) => get<StationView[]>(`${at(site)}/stations`),
  levels: (site: string) => get<LevelsView[]>(`${at(site)}/levels`),
  tryStation: (site: string, body: unknown) => post<StationView>(`${at(site)}/stations/try`, body),
  tryAnew: (site: string, body: unknown) => post<AnewView>(`${at(site)}/stations/try-anew`, body),
  setStation: (site: string, body: unknown) => post<StationView>(`${at(site)}/stations`, body),
  /** A station as its newest setting was written, for setting it anew. */
  async stationBody(site: string, view: StationView): Promise<StationBody> {
    const entry = view.entries.at(-1);
    const found = entry === undefined ? undefined : (await get<JournalView>(`${at(site)}/journal${query({ before: entry + 1, limit: 1 })}`)).entries[0];
    if (found?.n !== entry || found?.kind !== "StationSet") throw new Error(`the book gives no setting of ${view.station}`);
    const { kind: _kind, v: _v, id: _id, by: _by, device: _device, observed_at: _observed, import: _import, unchecked_reason: _reason, ...body } = found.body as Record<string, unknown>;
    return { ...body, saw: entry } as unknown as StationBody;
  },
  tryPoints: (site: string, points: unknown[]) => post<PointCard[]>(`${at(site)}/points/try`, { points }),
  recordPoints: (site: string, body: unknown) => post<PointCard[]>(`${at(site)}/points`, body),
  tieGrid: (site: string, body: unknown) => post<SiteView>(`${at(site)}/grid-tie`, body),
  withdraw: (site: string, body: unknown) => post<SiteView>(`${at(site)}/withdraw`, body),
  note: (site: string, body: unknown) => post<SiteView>(`${at(site)}/notes`, body),
  exportUrl: (site: string, to: string) => `${at(site)}/export?to=${to}`,
  eventsUrl: (site: string) => `${at(site)}/events`,

  async sheet(site: string, paper: string, question: DigQuestion, more: Record<string, string>): Promise<Blob> {
    const response = await ask(`${at(site)}/sheet`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ kind: "dig", paper, question, ...more }),
    });
    return response.blob();
  },

  /** Sends a file; `fetch` cannot tell how much of a body has gone, so this is an XMLHttpRequest. */
  importFile(site: string, what: ImportAsk, body: Blob, progress: (p: Progress) => void, signal: AbortSignal) {
    return new Promise<ImportPreview>((resolve, reject) => {
      const request = new XMLHttpRequest();
      const extra = query({ as: what.as, file: what.file, dry_run: what.dryRun ? 1 : undefined, ...what.options });
      request.open("POST", `${at(site)}/import${extra}`);
      request.setRequestHeader("content-type", "application/octet-stream");
      request.upload.addEventListener("progress", (e) =>
        progress({ stage: "sending", sent: e.loaded, of: e.lengthComputable ? e.total : body.size }));
      request.upload.addEventListener("load", () => progress({ stage: "reading" }));
      request.addEventListener("load", () => {
        if (request.status >= 200 && request.status < 300) {
          try {
            resolve(JSON.parse(request.responseText) as ImportPreview);
          } catch {
            reject(new NoAnswer("the server's answer could not be read"));
          }
        } else reject(failure(request.status, request.responseText));
      });
      request.addEventListener("error", () => reject(new NoAnswer("no answer from the server")));
      request.addEventListener("abort", () => reject(new Stopped("stopped")));
      signal.addEventListener("abort", () => request.abort());
      request.send(body);
    });
  },
};
