// Which surface depths hang on: named once by the person, then kept for the site while the browser is open. There is no
// default among several: a depth below the wrong surface is a wrong depth.

import type { Context } from "./context";
import { button, el } from "./dom";
import { select, type Field } from "./form";
import type { SurfaceView } from "./wire";

const key = (site: string): string => `coverbook.surface.${site}`;

/** Surfaces to choose from, newest state of each name. */
export const surfaceOptions = (surfaces: readonly SurfaceView[]): [string, string][] =>
  [...new Map(surfaces.map((s) => [s.name, s])).values()].map((s) => [s.name, `${s.name}, ${s.kind.replaceAll("-", " ")}, ${s.observed_at.slice(0, 10)}`]);

/** The surface named for this site; undefined when none is, or when it is not there any more. */
export function namedSurface(context: Context): string | undefined {
  const kept = sessionStorage.getItem(key(context.site.id));
  return context.site.view?.surfaces.some((s) => s.name === kept) ? (kept ?? undefined) : undefined;
}

/** Names the surface for this site. */
export function nameSurface(context: Context, name: string): void {
  if (name) sessionStorage.setItem(key(context.site.id), name);
  else sessionStorage.removeItem(key(context.site.id));
}

/** True when depths wait for a person to name a surface. */
export const surfaceOpen = (context: Context): boolean =>
  surfaceOptions(context.site.view?.surfaces ?? []).length > 1 && namedSurface(context) === undefined;

/** A list to choose the surface from; it keeps what was named. */
export function surfaceField(context: Context, blank: string, changed: () => void): Field {
  const field = select("Below which surface", surfaceOptions(context.site.view?.surfaces ?? []), { blank });
  field.input.value = namedSurface(context) ?? "";
  field.input.addEventListener("change", () => {
    nameSurface(context, field.text());
    changed();
  });
  return field;
}

/** The question as keys, for where nothing can be said before it is answered. */
export function surfaceQuestion(context: Context, chosen: () => void): HTMLElement {
  return el("section.surface-question", {},
    el("p", {}, "Several surfaces are recorded. Below which one shall depths be given?"),
    el("div.surface-keys", {}, surfaceOptions(context.site.view?.surfaces ?? []).map(([name, text]) => button(text, () => {
      nameSurface(context, name);
      chosen();
    }))));
}
