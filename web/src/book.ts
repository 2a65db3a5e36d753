import type { Context } from "./context";
export function book(c: Context): void { c.page.append("book"); }
