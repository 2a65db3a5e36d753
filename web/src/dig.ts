import type { Context } from "./context";
export function dig(c: Context): void { c.page.append("dig"); }
