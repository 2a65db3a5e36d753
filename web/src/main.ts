// Starts the page: which site, which door, and the linked views beside it.

import { api } from "./api";
import { book } from "./book";
import type { Context } from "./context";
import { cover } from "./cover";
import { dig } from "./dig";
import { button, el, put } from "./dom";
import { headShort } from "./format";
import { firstPage, sitesPage } from "./home";
import { legend } from "./legend";
import { Plan } from "./plan";
import { record } from "./record";
import { runCard } from "./run-card";
import { setServices } from "./services";
import { OpenSite } from "./site";
import { doorMark } from "./symbols";
import { applyTheme, isNight, setTheme } from "./theme";

const DOORS: [string, string][] = [["record", "Record"], ["cover", "Before cover"], ["dig", "Planned dig"], ["book", "The Book"]];
const app = document.getElementById("app") as HTMLElement;
const spoken = el("div.unseen", { role: "status", "aria-live": "polite" });
document.body.append(spoken);
applyTheme();

let site: OpenSite | null = null;
let stopSite: (() => void) | null = null;
let desk: Desk | null = null;
let leaving: (() => void)[] = [];
let turn = 0;

/** The desk: the door's page, the plan, the section and the staff. */
interface Desk {
  root: HTMLElement;
  plan: Plan;
  page: HTMLElement;
  staff: HTMLElement;
  views: HTMLElement;
  section: HTMLElement;
  nav: HTMLElement;
  head: HTMLElement;
}

// One column: phones and tablets held upright.
const oneColumn = matchMedia("(max-width: 1099px)");

function makeDesk(): Desk {
  const plan = new Plan();
  const page = el("main.page", { id: "page", tabindex: 0 });
  const staff = el("aside.staff", { "aria-label": "Staff at the place touched", hidden: true });
  const section = el("section.section", { "aria-label": "Section", hidden: true });
  const views = el("div.views", {}, plan.host, section);
  const nav = el("nav.doors", { "aria-label": "Doors" });
  const head = el("header.site-head");
  const root = el("div.desk", {}, nav, head, page, views, staff);
  return { root, plan, page, staff, views, section, nav, head };
}

function route(): string[] {
  return location.hash.replace(/^#\/?/, "").split("/").filter((p) => p !== "").map(decodeURIComponent);
}

async function openSite(id: string): Promise<OpenSite> {
  if (site?.id === id) return site;
  stopSite?.();
  const next = new OpenSite(id);
  await next.start();
  site = next;
  stopSite = () => next.stop();
  return next;
}

async function show(): Promise<void> {
  turn += 1;
  const mine = turn;
  for (const act of leaving) act();
  leaving = [];
  const [s, id, door, ...rest] = route();
  if (s !== "s" || !id) {
    stopSite?.();
    site = null;
    desk = null;
    await sitesPage(app);
    focusPage();
    return;
  }
  let open: OpenSite;
  try {
    open = await openSite(id);
  } catch (cause) {
    if (mine !== turn) return;
    put(app, el("main.lone", { id: "page", tabindex: -1 }, el("h1", {}, "This site cannot be opened"),
      el("p", {}, cause instanceof Error ? cause.message : String(cause)), el("p", {}, el("a.door-link", { href: "#/" }, "All sites"))));
    return;
  }
  if (mine !== turn) return;
  if (!door) {
    desk = null;
    const stop = firstPage(app, open, themeKey());
    leaving.push(stop);
    focusPage();
    return;
  }
  if (!desk || !app.contains(desk.root)) {
    desk = makeDesk();
    put(app, desk.root);
  }
  enter(desk, open, door, rest);
}

function enter(d: Desk, open: OpenSite, door: string, rest: string[]): void {
  const base = `#/s/${encodeURIComponent(open.id)}`;
  d.plan.reset();
  const context: Context = {
    site: open, plan: d.plan, page: d.page, rest,
    staff: (node) => {
      d.staff.hidden = node === null;
      if (node) put(d.staff, node);
      else put(d.staff);
      d.root.classList.toggle("with-staff", node !== null);
    },
    section: (node) => {
      d.section.hidden = node === null;
      if (node) put(d.section, node);
      else put(d.section);
    },
    planSlot: (node) => {
      if (node && oneColumn.matches) node.replaceChildren(d.views);
      else if (d.views.parentElement !== d.root) d.root.insertBefore(d.views, d.staff);
    },
    go: (path) => {
      location.hash = `${base.slice(1)}/${path}`;
    },
    href: (path) => `${base}/${path}`,
    say: (text) => {
      spoken.textContent = text;
    },
    onLeave: (act) => leaving.push(act),
  };
  context.staff(null);
  context.section(null);
  context.planSlot(null);
  d.root.dataset["door"] = door;
  put(d.nav,
    el("a.nav-home", { href: base, "aria-label": `Coverbook: first page of ${open.view?.name ?? "the site"}` }, el("span", {}, "Coverbook")),
    DOORS.map(([slug, name]) => el("a.nav-door", { href: `${base}/${slug}`, click: again, "aria-current": slug === door || (slug === "cover" && door === "run") ? "page" : null },
      doorMark(slug), el("span", {}, name))),
    themeKey());
  const paintHead = (): void => {
    const view = open.view;
    put(d.head,
      el("a.head-site", { href: base }, view?.name ?? ""),
      el("span.head-chain", { title: view?.head.hex ?? "" }, `book at ${view?.head.n ?? "?"}`, el("span.head-hex", {}, view ? headShort(view.head).replace(/^\d+/, "") : "")),
      el("span.head-link", { "data-link": open.link }, open.link === "lost" ? "No link to the server: what you see may be old" : open.link === "joining" ? "Joining" : ""));
  };
  paintHead();
  leaving.push(open.onChange(paintHead));
  const paintMap = (): void => {
    if (open.map) d.plan.setMap(open.map, open.stations);
  };
  paintMap();
  leaving.push(open.onChange((what) => {
    if (what === "view") paintMap();
  }));
  put(d.page);
  const doors: Record<string, (c: Context) => void> = { record, cover, dig, book, run: runCard, legend };
  const act = doors[door];
  if (act) act(context);
  else put(d.page, el("h1", {}, "No such door"), el("p", {}, el("a", { href: base }, "Back to the site")));
  d.page.scrollTop = 0;
  focusPage();
}

/** A door that is open already is opened afresh: an answer goes back to its question. */
function again(event: Event): void {
  if ((event.currentTarget as HTMLAnchorElement).hash === location.hash) void show();
}

function themeKey(): HTMLElement {
  const key = button("", () => {
    setTheme(isNight() ? "paper" : "night");
    paint();
  }, "theme-key");
  const paint = (): void => {
    key.textContent = isNight() ? "Paper" : "Night";
    key.setAttribute("aria-label", isNight() ? "Change to light paper" : "Change to night");
  };
  paint();
  return key;
}

/** After a door is opened the keyboard stands at its heading, so that reading goes on from there. */
function focusPage(): void {
  const heading = app.querySelector<HTMLElement>("#page h1");
  if (!heading) return;
  heading.tabIndex = -1;
  heading.focus({ preventScroll: true });
}

addEventListener("hashchange", () => void show());
try {
  setServices(await api.services());
} catch {
  // The list of services is asked for again with the first site; the page says below when there is no server.
}
void show();
