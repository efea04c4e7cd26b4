// A drawing of the program, the report's own, set into the page: its colours are custom properties and follow the theme.

import { getAnswer } from "../api";
import { fill } from "../el";
import { failureBox } from "../failure_box";

const allowed = new Set(["svg", "g", "path", "circle", "rect", "line", "polyline", "polygon", "text", "tspan", "title", "desc", "defs", "clippath"]);

/** Null when the answer is no drawing. Elements and attributes that a drawing does not need are left out. */
export function drawingOf(markup: string): SVGElement | null {
  const parsed = new DOMParser().parseFromString(markup.includes("xmlns=") ? markup : markup.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"'), "image/svg+xml");
  const root = parsed.documentElement;
  if (root.localName !== "svg") return null;
  for (const node of [root, ...root.querySelectorAll("*")]) {
    if (!allowed.has(node.localName.toLowerCase())) node.remove();
    for (const { name } of [...node.attributes]) if (name === "style" || name.startsWith("on") || name.includes("href")) node.removeAttribute(name);
  }
  root.removeAttribute("width");
  root.removeAttribute("height");
  root.classList.add("drawing");
  return document.importNode(root, true) as unknown as SVGElement;
}

/** The drawings of `path` in `figure`, at a width that gives them the page's size of type; a failure in words. */
export async function drawInto(figure: HTMLElement, path: string, query: Record<string, string | number>, left: AbortSignal): Promise<void> {
  // Type of 6.5 points, set at 12 pixels.
  const width = Math.round(Math.min(Math.max(((figure.clientWidth || 760) * 6.5) / 12, 420), 900));
  try {
    const drawings = await getDrawings(path, { ...query, width }, left);
    if (!left.aborted) fill(figure, ...drawings);
  } catch (thrown) {
    if (!left.aborted) fill(figure, failureBox(thrown));
  }
}

/** A long drawing comes in parts, and the first says how many. */
async function getDrawings(path: string, query: Record<string, string | number>, left: AbortSignal): Promise<SVGElement[]> {
  const first = await getAnswer(path, query, left);
  const parts = Number(first.headers.get("Ebbtide-Parts") ?? 1);
  const more = await Promise.all(Array.from({ length: parts - 1 }, (_, at) => getAnswer(path, { ...query, part: at + 2 }, left)));
  const drawings: SVGElement[] = [];
  for (const answer of [first, ...more]) {
    const drawing = drawingOf(await answer.text());
    if (drawing) drawings.push(drawing);
  }
  return drawings;
}
