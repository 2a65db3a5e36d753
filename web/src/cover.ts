import type { Context } from "./context";
export function cover(c: Context): void { c.page.append("cover"); }
