import type { Context } from "./context";
export function legend(c: Context): void { c.page.append("legend"); }
