// Small helpers that make elements. Text goes in as text, always; nothing here can turn a label into markup.

export type Child = Node | string | number | null | undefined | false | Child[];
type Attributes = Record<string, string | number | boolean | null | undefined | ((event: Event) => void)>;

function fill(node: Element, attributes: Attributes, children: Child[]): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === "function") node.addEventListener(name, value);
    else if (name === "style") throw new Error("styles belong in the style sheet");
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  append(node, children);
}

/** Adds children, skipping what is absent. */
export function append(node: Element, children: Child[]): void {
  for (const child of children) {
    if (child === null || child === undefined || child === false) continue;
    if (Array.isArray(child)) append(node, child);
    else if (child instanceof Node) node.append(child);
    else node.append(document.createTextNode(String(child)));
  }
}

/** Makes an HTML element: `el("p.note", {id: "x"}, "text")`. A function attribute is an event listener. */
export function el<K extends keyof HTMLElementTagNameMap>(
  tag: K | `${K}.${string}`, attributes: Attributes = {}, ...children: Child[]
): HTMLElementTagNameMap[K] {
  const [name, ...classes] = tag.split(".");
  const node = document.createElement(name as K);
  if (classes.length > 0) node.className = classes.join(" ");
  fill(node, attributes, children);
  return node;
}

/** Makes an SVG element. */
export function svg<K extends keyof SVGElementTagNameMap>(
  tag: K, attributes: Attributes = {}, ...children: Child[]
): SVGElementTagNameMap[K] {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  fill(node, attributes, children);
  return node;
}

/** Puts these children in place of whatever was there. */
export function put(node: Element, ...children: Child[]): void {
  node.replaceChildren();
  append(node, children);
}

let made = 0;
/** A fresh id, for tying a label to its field. */
export function freshId(stem: string): string {
  made += 1;
  return `${stem}-${made}`;
}

/** A button. */
export function button(text: Child, act: (event: Event) => void, look = "plain", attributes: Attributes = {}): HTMLButtonElement {
  return el(`button.${look}` as "button", { type: "button", click: act, ...attributes }, text);
}

/** A figure with its unit, small, behind it. */
export function figure(value: string, unit: string, look = "figure"): HTMLElement {
  return el(`span.${look}` as "span", {}, value, unit && el("span.unit", {}, `\u00a0${unit}`));
}
