// The whole framework: makes an element. Text goes in as text, never as markup.

export type Child = Node | string | number | null | undefined | false;
type Attributes = Record<string, string | number | boolean | null | undefined | ((event: never) => void)>;

/** el("button.quiet", {type: "button", onclick: f}, "words"). False, null and undefined leave an attribute or child out. */
export function el<K extends keyof HTMLElementTagNameMap>(tag: K | `${K}.${string}`, attributes?: Attributes, ...children: Child[]): HTMLElementTagNameMap[K];
export function el(tag: string, attributes?: Attributes, ...children: Child[]): HTMLElement;
export function el(tag: string, attributes: Attributes = {}, ...children: Child[]): HTMLElement {
  const [name = "div", ...classes] = tag.split(".");
  const node = document.createElement(name);
  if (classes.length > 0) node.className = classes.join(" ");
  furnish(node, attributes);
  append(node, children);
  return node;
}

/** The same for drawings; sizes and colours by attributes and classes, for the content policy forbids style attributes. */
export function svg(tag: string, attributes: Attributes = {}, ...children: Child[]): SVGElement {
  const [name = "g", ...classes] = tag.split(".");
  const node = document.createElementNS("http://www.w3.org/2000/svg", name);
  if (classes.length > 0) node.setAttribute("class", classes.join(" "));
  furnish(node, attributes);
  append(node, children);
  return node;
}

/** Replaces what is in `node`. */
export function fill(node: Element, ...children: Child[]): void {
  node.replaceChildren();
  append(node, children);
}

function furnish(node: Element, attributes: Attributes): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (typeof value === "function") node.addEventListener(name.slice(2), value as EventListener);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
}

function append(node: Element, children: Child[]): void {
  for (const child of children) {
    if (child === false || child === null || child === undefined) continue;
    node.append(typeof child === "number" ? String(child) : child);
  }
}
