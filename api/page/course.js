// The course that the page is about: opened, changed by options, and sent again by itself
// where the service has let it go.

import { call, Problem } from "./service.js";
import { count } from "./wording.js";

/** The most bytes of a file that the service takes: the contract's RouteFile.maxLength. */
const mostBytes = 33554432;

/** The options of a course as a query; those left alone are absent. */
function queryOf({ marks, ...options }) {
  return { ...options, mark: marks?.map(shortMark), include: "profile" };
}

/** A mark of the options in the short form that a query has. */
export const shortMark = (mark) => Object.entries(mark).map(([key, value]) => `${key}=${value}`).join(",");

/** Reads a mark's short form; what isn't one is left to the service to refuse. */
export function readMark(text) {
  const pairs = text.split(",").map((pair) => [pair.slice(0, pair.indexOf("=")), pair.slice(pair.indexOf("=") + 1)]);
  return Object.fromEntries(pairs.map(([key, value]) => [key, /_(m|deg)$/.test(key) ? Number(value) : value]));
}

/** Opens a file ({name, blob, demo?}) with options, and makes it the page's course. */
export async function openFile(store, source, options, signal) {
  if (source.blob.size > mostBytes) {
    throw new Problem({
      type: "/problems/too-large", title: "The file is too large", limit: mostBytes, actual: source.blob.size,
      detail: `${source.name} has ${count(source.blob.size)} bytes; up to ${count(mostBytes)} are read. Compress it with gzip, or leave out what isn't the course.`,
    });
  }
  const [course] = await Promise.all([call("/v1/courses", { query: queryOf(options), file: source.blob, signal }), store.get("panels")()]);
  const again = store.get("source") === source;
  store.set({
    source, options, course, predictions: null, plans: null, climb: null, focus: "course",
    cursorM: again ? Math.min(store.get("cursorM"), course.distance_m) : 0,
  });
  return course;
}

/** Opens one of the service's own courses. */
export async function openDemo(store, demo, options, signal) {
  const blob = await call(`/demos/${demo}`, { accept: "application/gpx+xml", as: "blob", signal });
  return openFile(store, { name: `${demo}.gpx`, blob, demo }, options, signal);
}

/** Opens a course that the service still holds; its file isn't here. */
export async function openHeld(store, id, signal) {
  const [course] = await Promise.all([call(`/v1/courses/${id}`, { query: { include: "profile" }, signal }), store.get("panels")()]);
  const { name, laps, lap_line, reverse, smoothing, track, start_m, end_m, marks } = course.options;
  store.set({
    source: null, course, focus: "course", climb: null, cursorM: 0, predictions: null, plans: null,
    options: clean({ name, laps, lap_line, reverse: reverse || null, smoothing: smoothing === "auto" ? null : smoothing, track, start_m: start_m || null, end_m, marks }),
  });
  return course;
}

/** An object without what is null, undefined or empty. */
export function clean(object) {
  return Object.fromEntries(Object.entries(object).filter(([, v]) => v !== null && v !== undefined && v !== "" && v.length !== 0));
}

/**
 * Runs one request about the page's course, ask(course_id). Where the course has left the
 * service's memory, its file is sent again and the request once more.
 */
export async function withCourse(store, ask, signal) {
  try {
    return await ask(store.get("course").course_id);
  } catch (error) {
    const source = store.get("source");
    if (!(error instanceof Problem) || !error.is("course-not-cached") || !source) throw error;
    const course = await call("/v1/courses", { query: queryOf(store.get("options")), file: source.blob, signal });
    return ask(course.course_id);
  }
}

/** A call whose JSON body has the page's course beside what is given. */
export function askAbout(store, path, json, more = {}) {
  return withCourse(store, (id) => call(path, { ...more, json: { course: { course_id: id }, ...json } }), more.signal);
}
