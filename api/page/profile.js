// The course at a glance: its figures, its picture, and a cursor that goes along it.

import { withCourse } from "./course.js";
import { el, fill, problemBox } from "./dom.js";
import { call, calledOff } from "./service.js";
import { gradient, unitsOf } from "./wording.js";

const svgNamespace = "http://www.w3.org/2000/svg";

/** Fills the section whenever the course, the units or the look change. */
export function mountProfile(section, store) {
  const facts = el("dl", { class: "facts" });
  const warnings = el("div");
  const title = el("h2", { id: "profile-title" });
  const picture = coursePicture(store);
  fill(section, title, facts, warnings, picture.node);

  store.on(["course", "units"], ({ course, units }) => {
    section.hidden = !course;
    if (!course) return;
    title.textContent = course.name || "The course";
    fill(facts, factsOf(course, unitsOf(units)).map(([word, value]) => el("div", {}, el("dt", {}, word), el("dd", {}, value))));
    fill(warnings, warningsOf(course, unitsOf(units)));
  });
}

function factsOf(course, u) {
  const facts = [["long", u.length(course.distance_m)]];
  if (course.ascent_m !== undefined) facts.push(["of climbing", u.height(course.ascent_m)]);
  if (course.laps.count > 1) facts.push([`laps of ${u.length(course.laps.length_m)}`, String(course.laps.count)]);
  if (course.max_elevation_m !== undefined) facts.push(["lowest to highest", `${u.height(course.min_elevation_m)} – ${u.height(course.max_elevation_m)}`]);
  return facts;
}

/** What the service found odd in the file, each with its place. */
function warningsOf(course, u) {
  const { warnings } = course.quality;
  if (!warnings.length) return null;
  return el("details", { open: warnings.length < 4 }, el("summary", {}, `How far to trust the file (${warnings.length})`),
    el("ul", {}, warnings.map((w) => el("li", {}, w.at_m === undefined ? null : `At ${u.length(w.at_m)}: `, w.detail))));
}

/** The picture with its choice of what is drawn and its cursor. */
function coursePicture(store) {
  const trouble = el("div");
  const sheet = el("div", { class: "sheet", tabIndex: 0, role: "region", "aria-label": "The picture, which may be wider than the screen" });
  const focus = el("select", { id: "focus", onchange: () => store.set({ focus: focus.value }) });
  const slider = el("input", { type: "range", id: "cursor", min: 0, step: "any", oninput: () => store.set({ cursorM: Number(slider.value) }) });
  const readout = el("p", { class: "readout", "aria-hidden": "true" });
  const paper = el("img", { class: "on-paper", alt: "" }); // the same in greys: there is no time to ask for it once somebody prints
  const cursor = makeCursor(sheet, (m) => store.set({ cursorM: m }));
  const node = el("div", {},
    el("div", { class: "row no-print" }, el("div", { class: "field" }, el("label", { for: "focus" }, "Drawn"), focus)),
    el("figure", {}, sheet, paper), trouble,
    el("label", { for: "cursor", class: "no-print" }, "Along the course"), slider, readout);

  store.on(["course", "units"], ({ course, units }) => course && fill(focus, choices(course, unitsOf(units))));
  store.on(["course"], ({ course }) => {
    if (course) slider.max = course.distance_m;
  });
  store.on(["course", "focus"], (state) => (focus.value = state.focus));
  store.on(["course", "cursorM", "units"], ({ course, cursorM, units }) => {
    if (!course) return;
    const words = placeWords(course, cursorM, unitsOf(units));
    slider.value = cursorM;
    slider.step = course.distance_m / 1000;
    slider.setAttribute("aria-valuetext", words);
    readout.textContent = words;
    cursor.show(cursorM);
  });

  let running = null;
  async function draw() {
    const { course_id: id } = store.get("course") ?? {};
    if (!id) return;
    running?.abort();
    const { signal } = (running = new AbortController());
    const query = { focus: store.get("focus"), width: widthOf(sheet), theme: store.get("look"), units: store.get("units") };
    try {
      const address = (now) => `/v1/courses/${now}/profile`;
      const [svg, now] = await withCourse(store, async (now) => [await call(address(now), { query, accept: "image/svg+xml", signal }), now], signal);
      fill(trouble);
      fill(sheet, readPicture(svg));
      paper.src = `${address(now)}?${new URLSearchParams({ focus: query.focus, width: 960, theme: "print", units: query.units })}`;
      cursor.show(store.get("cursorM"));
    } catch (error) {
      if (!calledOff(error)) fill(trouble, problemBox(error));
    }
  }
  store.on(["course", "focus", "units", "look"], draw);
  let width = 0;
  new ResizeObserver(() => {
    if (Math.abs(widthOf(sheet) - width) < 16) return;
    width = widthOf(sheet);
    draw();
  }).observe(sheet);
  return { node };
}

/** The width in px that a picture is asked for: the sheet's, as far as pictures go. */
export const widthOf = (sheet) => Math.min(Math.max(Math.round(sheet.clientWidth) || 960, 480), 1600);

/** Turns the service's SVG into an element of this page. */
export function readPicture(text) {
  return document.importNode(new DOMParser().parseFromString(text, "image/svg+xml").documentElement, true);
}

/** What can be drawn of a course. */
function choices(course, u) {
  const some = [["course", "The whole course"]];
  if (course.laps.count > 1 && course.ascent_m !== undefined) some.push(["laps", "The laps over each other"]);
  if (course.parts && course.bends) some.push(["map", "The map"]);
  for (const c of course.climbs) some.push([c.climb_id, `${climbName(c)}, ${u.length(c.length_m)} at ${gradient(c.mean_gradient_pct)}`]);
  return some.map(([value, words]) => el("option", { value }, words));
}

/** A climb's own name, or its number. */
export const climbName = (climb) => climb.name || `Climb ${climb.climb_id.replace("climb-", "")}`;

/** Says where a position is, in words. */
export function placeWords(course, m, u) {
  const words = [u.length(m), `${u.length(course.distance_m - m)} to go`];
  const { elevation_m: z, gradient_pct: g, distance_m: s } = course.profile ?? {};
  if (z && g) {
    let i = 0;
    for (let low = 0, high = s.length - 1; low < high; i = low) {
      const middle = (low + high + 1) >> 1;
      if (s[middle] <= m) low = middle;
      else high = middle - 1;
    }
    words.push(u.height(z[i]), gradient(g[Math.min(i, g.length - 1)]));
  }
  const part = course.parts.findLast((p) => p.start_m <= m);
  if (part?.kind === "lap") words.push(`lap ${part.lap}`);
  else if (part?.kind === "lead_in") words.push("lead-in");
  else if (part?.kind === "run_out") words.push("run-out");
  for (const c of course.climbs) {
    if (!c.parent_climb_id && c.passes.some((p) => p.start_m <= m && m <= p.end_m)) words.push(climbName(c));
  }
  return words.join(" · ");
}

/**
 * A line over a sheet's picture at a position along the course, for pictures that say where
 * their plot is; moved(m) is told where a pointer goes.
 */
export function makeCursor(sheet, moved) {
  const here = document.createElementNS(svgNamespace, "g");
  const line = document.createElementNS(svgNamespace, "line");
  here.setAttribute("class", "here");
  here.append(line);

  function plot() {
    const { plotX0, plotX1, plotY0, plotY1, fromM, toM } = sheet.querySelector("svg")?.dataset ?? {};
    if (plotX0 === undefined) return null;
    return { x0: Number(plotX0), x1: Number(plotX1), y0: Number(plotY0), y1: Number(plotY1), fromM: Number(fromM), toM: Number(toM) };
  }

  function follow(event) {
    const p = plot();
    const svg = sheet.querySelector("svg");
    if (!p || !svg) return;
    const box = svg.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * svg.viewBox.baseVal.width;
    if (x < p.x0 || x > p.x1) return;
    moved(p.fromM + ((x - p.x0) / (p.x1 - p.x0)) * (p.toM - p.fromM));
  }
  sheet.addEventListener("pointermove", follow);
  sheet.addEventListener("pointerdown", follow);

  return {
    show(m) {
      const p = plot();
      here.remove();
      if (!p || m < p.fromM || m > p.toM) return;
      const x = p.x0 + ((m - p.fromM) / (p.toM - p.fromM)) * (p.x1 - p.x0);
      for (const [name, value] of Object.entries({ x1: x, x2: x, y1: p.y0, y2: p.y1 })) line.setAttribute(name, value);
      sheet.querySelector("svg").append(here);
    },
  };
}
