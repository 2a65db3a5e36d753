// What a door is handed: the open site, the linked views, and where to go.

import type { Plan } from "./plan";
import type { OpenSite } from "./site";

export interface Context {
  site: OpenSite;
  plan: Plan;
  /** The page beside the plan. */
  page: HTMLElement;
  /** Shows a staff at the edge, or takes it away. */
  staff(node: HTMLElement | null): void;
  /** Shows a section under the plan, or takes it away. */
  section(node: HTMLElement | null): void;
  /** On a phone the plan and section can stand inside the page; gives the place for them. */
  planSlot(node: HTMLElement | null): void;
  /** Goes to a path under the site: `cover`, `dig`, `run/NAME`. */
  go(path: string): void;
  /** Tells a screen reader. */
  say(text: string): void;
  /** The address of a path under the site. */
  href(path: string): string;
  /** Rest of the address after the door. */
  rest: string[];
  /** Called when the door is left. */
  onLeave(act: () => void): void;
}

const BY = "coverbook.by";

/** The name that the book shows for this person, as last typed. */
export const lastBy = (): string => localStorage.getItem(BY) ?? "";

/** Keeps the name for the next act. */
export const keepBy = (name: string): void => localStorage.setItem(BY, name);
