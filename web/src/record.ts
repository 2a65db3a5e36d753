import type { Context } from "./context";
export function record(c: Context): void { c.page.append("record"); }
