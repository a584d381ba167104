// Calls of the service. Answers are its own values; what goes wrong is a Problem.

import { askKey, heldKey } from "./key.js";

/** What the service, or the way to it, refuses: the fields of its problem documents. */
export class Problem extends Error {
  constructor(fields) {
    super(fields.detail ?? fields.title);
    Object.assign(this, fields);
  }

  /** Whether it is of a kind, by the last segment of its type. */
  is(kind) {
    return this.type === `/problems/${kind}`;
  }
}

/**
 * Sends one request and returns its answer: an object for JSON, else text, or with
 * `as: "blob"` a Blob. `json` or `file` is the body, `query` holds parameters, of which a
 * list is repeated and null left out.
 */
export async function call(path, { method, query, json, file, accept = "application/json", as, signal } = {}) {
  const answer = await send(path, { method, query, json, file, accept, signal });
  if (as === "blob") return answer.blob();
  return accept === "application/json" ? answer.json() : answer.text();
}

/** Sends one request and yields the objects of an answer of lines (application/x-ndjson). */
export async function* lines(path, { json, signal }) {
  const answer = await send(path, { json, accept: "application/x-ndjson", signal });
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { value, done } = await reader.read();
    rest += value ?? "";
    for (let end = rest.indexOf("\n"); end >= 0; end = rest.indexOf("\n")) {
      if (end > 0) yield JSON.parse(rest.slice(0, end));
      rest = rest.slice(end + 1);
    }
    if (done) return;
  }
}

async function send(path, { method, query, json, file, accept, signal }) {
  const url = new URL(path, location.href);
  for (const [name, value] of Object.entries(query ?? {})) {
    for (const each of Array.isArray(value) ? value : [value]) {
      if (each !== null && each !== undefined && each !== "") url.searchParams.append(name, each);
    }
  }
  const headers = { Accept: accept };
  let body;
  if (json !== undefined) {
    headers["Content-Type"] = "application/json";
    body = JSON.stringify(json);
  } else if (file) {
    headers["Content-Type"] = "application/octet-stream"; // the format is told from the bytes
    body = file;
  }
  return withKey(url, { method: method ?? (body === undefined ? "GET" : "POST"), headers, body, signal });
}

/** Sends a request with the key that is held; where the service wants another, asks for it and sends it again. */
async function withKey(url, request) {
  for (;;) {
    const key = heldKey();
    if (key) request.headers.Authorization = `Bearer ${key}`;
    const answer = await reach(url, request);
    if (answer.ok) return answer;
    const problem = await refused(answer);
    if (!problem.is("key-required")) throw problem;
    const typedMeanwhile = key !== heldKey();
    if (!typedMeanwhile && !(await askKey(key ? problem.detail : "Whoever runs this service lets in those who have a key."))) throw problem;
  }
}

async function reach(url, request) {
  try {
    return await fetch(url, request);
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Problem({ title: "The service can't be reached", detail: "Look at the connection, and try again." });
  }
}

async function refused(answer) {
  try {
    return new Problem(await answer.json());
  } catch {
    return new Problem({ title: "The service answered something unexpected", status: answer.status, detail: `Status ${answer.status}. Try again.` });
  }
}

/** Whether an error only says that the work was called off. */
export const calledOff = (error) => error?.name === "AbortError";
