// How services are written and drawn: letters first, line pattern second, colour third. The list is the server's.

import { readableOn, inks } from "./theme";
import type { ServiceView } from "./wire";

const bySlug = new Map<string, ServiceView>();
let inked = new Map<string, string>();
let inkedFor = "";

/** Takes the server's list. */
export function setServices(list: readonly ServiceView[]): void {
  bySlug.clear();
  for (const service of list) bySlug.set(service.slug, service);
}

/** All services, in legend order. */
export const allServices = (): ServiceView[] => [...bySlug.values()];

/** A service by its slug; one that is not in the list is shown as unknown, loudly. */
export function service(slug: string): ServiceView {
  return bySlug.get(slug) ?? { slug, letters: "?", name: slug, dash_mm: [4, 2, 0.6, 2], colour: "#000000", gravity: false };
}

/** The ink of a service in the theme in force. */
export function serviceInk(slug: string): string {
  const { paper } = inks();
  if (paper !== inkedFor) {
    inked = new Map();
    inkedFor = paper;
  }
  let ink = inked.get(slug);
  if (!ink) {
    ink = readableOn(service(slug).colour, paper);
    inked.set(slug, ink);
  }
  return ink;
}

/** Millimetres on paper as CSS pixels. */
export const MM = 96 / 25.4;
