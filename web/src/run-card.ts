import type { Context } from "./context";
export function runCard(c: Context): void { c.page.append("run-card"); }
