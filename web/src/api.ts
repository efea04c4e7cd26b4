// Asks the program. Every failure becomes a Failure in words: what happened, what is safe, what to do.

import { errors } from "./words";

export class Failure extends Error {
  constructor(
    readonly what: string,
    readonly safe: string,
    readonly remedy: string,
    readonly status = 0,
    /** File and line, or the name of the field. */
    readonly where = "",
  ) {
    super(what);
  }
}

interface ErrorBody {
  what?: string;
  where?: string;
  remedy?: string;
}

export type Query = Record<string, string | number | boolean | null | undefined>;

/** address("orders", key, "runs", run) escapes each part. */
export function address(...parts: (string | number)[]): string {
  return "/api/" + parts.map((part) => encodeURIComponent(String(part))).join("/");
}

/** `path?query`, leaving out what is null or undefined. */
export function withQuery(path: string, query: Query): string {
  const search = new URLSearchParams();
  for (const [name, value] of Object.entries(query)) {
    if (value !== null && value !== undefined) search.set(name, String(value));
  }
  const text = search.toString();
  return text ? `${path}?${text}` : path;
}

export async function get<T>(path: string, query: Query = {}, signal?: AbortSignal): Promise<T> {
  const answer = await send(withQuery(path, query), { signal: signal ?? null });
  return (await answer.json()) as T;
}

/** The answer itself, for what is no JSON. */
export function getAnswer(path: string, query: Query = {}, signal?: AbortSignal): Promise<Response> {
  return send(withQuery(path, query), { signal: signal ?? null });
}

export async function post<T>(path: string, body: unknown): Promise<T> {
  const answer = await send(path, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(body),
  });
  return (await answer.json()) as T;
}

/** For files: bytes as they are. */
export async function postBytes<T>(path: string, query: Query, bytes: Blob): Promise<T> {
  const answer = await send(withQuery(path, query), {
    method: "POST",
    headers: { "Content-Type": "application/octet-stream" },
    body: bytes,
  });
  return (await answer.json()) as T;
}

async function send(path: string, init: RequestInit): Promise<Response> {
  let answer: Response;
  try {
    answer = await fetch(path, { credentials: "same-origin", cache: "no-store", ...init });
  } catch (thrown) {
    if (thrown instanceof DOMException && thrown.name === "AbortError") throw thrown;
    throw new Failure(errors.unreachable, errors.unreachable_safe, errors.unreachable_remedy);
  }
  if (answer.ok) return answer;
  throw await failureOf(answer);
}

async function failureOf(answer: Response): Promise<Failure> {
  let body: ErrorBody = {};
  try {
    body = (await answer.json()) as ErrorBody;
  } catch {
    // Not our own words: the status has to do.
  }
  if (answer.status === 401 || answer.status === 403) {
    return new Failure(errors.not_let_in, errors.nothing_changed, body.remedy || errors.not_let_in_remedy, answer.status);
  }
  const what = body.what ? (body.where ? `${body.what} (${body.where})` : body.what) : errors.status(answer.status);
  return new Failure(what, errors.nothing_changed, body.remedy || errors.try_again, answer.status, body.where);
}

/** Anything thrown, in words. */
export function failure(thrown: unknown): Failure {
  if (thrown instanceof Failure) return thrown;
  return new Failure(errors.page_broke(String(thrown)), errors.page_broke_safe, errors.page_broke_remedy);
}
