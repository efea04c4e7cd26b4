// Where one is: #/order/KEY/run/RUN?compare=...; and what a page is given to fill.

export interface Place {
  /** "today", "bench", "order", "materials", "methods" */
  page: string;
  /** what follows, unescaped: of #/order/KEY/run/RUN ["KEY", "run", "RUN"] */
  parts: string[];
  query: URLSearchParams;
}

/** What a page fills. It may be filled again when an answer comes; a page that was left must not write any more. */
export interface Room {
  work: HTMLElement;
  next: HTMLElement;
  /** Title of the page and of the window. */
  title(words: string): void;
  /** Aborted when the page is left: hand it to `get`. */
  left: AbortSignal;
}

/** Fills the room; what it returns is called when the page is left. Throwing shows the failure in words. */
export type Page = (place: Place, room: Room) => Promise<void | (() => void)>;

export function readPlace(hash: string): Place {
  const [path = "", search = ""] = hash.replace(/^#\/?/, "").split("?");
  const [page, ...parts] = path.split("/").filter(Boolean).map(decodePart);
  return { page: page ?? "today", parts, query: new URLSearchParams(search) };
}

function decodePart(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

/** link("order", key, "run", run) */
export function link(page: string, ...parts: string[]): string {
  return "#/" + [page, ...parts].map(encodeURIComponent).join("/");
}

export function go(hash: string): void {
  location.hash = hash;
}
