// Light paper, dark night, and inks that stay readable on both.

export type Theme = "auto" | "paper" | "night";

const KEY = "coverbook.theme";
const dark = matchMedia("(prefers-color-scheme: dark)");
const listeners = new Set<() => void>();

/** The chosen theme. */
function theme(): Theme {
  const stored = localStorage.getItem(KEY);
  return stored === "paper" || stored === "night" ? stored : "auto";
}

let chosen: Theme = theme();

/** True when the page is drawn light on dark now. */
export const isNight = (): boolean => chosen === "night" || (chosen === "auto" && dark.matches);

/** Chooses a theme and tells the drawings. */
export function setTheme(next: Theme): void {
  if (next === "auto") localStorage.removeItem(KEY);
  else localStorage.setItem(KEY, next);
  chosen = next;
  applyTheme();
}

/** Sets the theme on the page. */
export function applyTheme(): void {
  document.documentElement.dataset["theme"] = isNight() ? "night" : "paper";
  kept = null;
  for (const tell of listeners) tell();
}

/** Calls back whenever the theme changes. */
export function onTheme(tell: () => void): void {
  listeners.add(tell);
}

dark.addEventListener("change", applyTheme);

export interface Inks {
  paper: string;
  ink: string;
  faint: string;
  hatch: string;
  mark: string;
  night: boolean;
}

let kept: Inks | null = null;

/** The inks of the theme in force, as the style sheet names them; read once a theme, because drawing asks often. */
export function inks(): Inks {
  if (kept && kept.night === isNight() && kept.paper) return kept;
  const style = getComputedStyle(document.documentElement);
  const of = (name: string): string => style.getPropertyValue(name).trim();
  kept = { paper: of("--paper"), ink: of("--ink"), faint: of("--rule"), hatch: of("--hatch"), mark: of("--mark"), night: isNight() };
  return kept;
}

function channels(hex: string): [number, number, number] {
  const n = Number.parseInt(hex.slice(1), 16);
  return [(n >> 16) & 255, (n >> 8) & 255, n & 255];
}

/** Relative luminance as WCAG 2 defines it. */
export function luminance(hex: string): number {
  const [r, g, b] = channels(hex).map((c) => {
    const s = c / 255;
    return s <= 0.04045 ? s / 12.92 : ((s + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

/** Contrast of two colours as WCAG 2 defines it. */
export function contrast(a: string, b: string): number {
  const [x, y] = [luminance(a), luminance(b)];
  return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
}

/** A service's colour, moved toward white or black until it stands out at least 7 to 1 from the paper. */
export function readableOn(colour: string, paper: string, least = 7): string {
  if (!/^#[0-9a-f]{6}$/i.test(colour) || !/^#[0-9a-f]{6}$/i.test(paper)) return colour;
  const toward = luminance(paper) < 0.18 ? 255 : 0;
  let made = colour;
  for (let step = 0; step <= 20 && contrast(made, paper) < least; step += 1) {
    const share = step / 20;
    const mixed = channels(colour).map((c) => Math.round(c + (toward - c) * share));
    made = `#${mixed.map((c) => c.toString(16).padStart(2, "0")).join("")}`;
  }
  return made;
}
