// A picture of the course with a cursor: pointers, arrow keys and a slider move it, and a
// second picture, in greys, stands by for paper.

import { withCourse } from "./course.js";
import { el, fill, problemBox } from "./dom.js";
import { call, calledOff } from "./service.js";
import { placeWords } from "./whereabouts.js";
import { unitsOf } from "./wording.js";

const svgNamespace = "http://www.w3.org/2000/svg";

/** How many steps of an arrow key take the cursor through a picture, and how many with Shift. */
const steps = { fine: 500, coarse: 50 };

/**
 * Makes a picture of the page's course, {node, sheet}. focusOf(state) says what is drawn, null
 * for nothing; it may hang on the store's keys. The slider has an id and words.
 */
export function coursePicture(store, { id, words, keys, focusOf }) {
  const trouble = el("div");
  const sheet = el("div", { class: "sheet", tabIndex: 0, role: "region", "aria-label": `${words}: the picture; arrow keys go along it`, onkeydown: keyed });
  const paper = el("img", { class: "on-paper", alt: "", fetchPriority: "low" }); // there is no time to ask for it once somebody prints
  const slider = el("input", { type: "range", id, min: 0, step: "any", oninput: () => go(Number(slider.value)), onkeydown: keyed });
  const readout = el("p", { class: "readout", "aria-hidden": "true" });
  const node = el("div", {}, el("figure", {}, sheet, paper), trouble, el("label", { for: id, class: "no-print" }, words), slider, readout);
  const cursor = makeCursor(sheet, (m) => go(m + shift(store.get("cursorM"))));
  const focus = () => (store.get("course") ? focusOf(Object.fromEntries(keys.map((k) => [k, store.get(k)]))) : null);

  /** The stretches that are drawn over each other, the first of them where the picture is. */
  function again() {
    const course = store.get("course");
    if (focus() === "laps") return course.parts.filter((p) => p.kind === "lap");
    return course.climbs.find((c) => c.climb_id === focus())?.passes ?? [];
  }

  /** How far a position lies behind the place where it is drawn. */
  function shift(m) {
    const { fromM, toM } = cursor.plot() ?? {};
    const [first, ...later] = again();
    const now = later.findLast((s) => fromM <= m - (s.start_m - first.start_m) && m - (s.start_m - first.start_m) <= toM);
    return now ? now.start_m - first.start_m : 0;
  }

  /** Where the cursor may go: the whole course, or as much of it as a close-up shows. */
  function range() {
    const { fromM, toM } = cursor.plot() ?? {};
    const whole = !focus()?.startsWith("climb-") || fromM === undefined;
    const by = whole ? 0 : shift(store.get("cursorM"));
    return whole ? [0, store.get("course").distance_m] : [fromM + by, toM + by];
  }

  function go(m) {
    const [low, high] = range();
    store.set({ cursorM: Math.min(Math.max(m, low), high) });
  }

  function keyed(event) {
    if (!store.get("course") || event.ctrlKey || event.altKey || event.metaKey) return;
    const [low, high] = range();
    const step = (high - low) / (event.shiftKey ? steps.coarse : steps.fine);
    const to = {
      ArrowLeft: store.get("cursorM") - step, ArrowRight: store.get("cursorM") + step, Home: low, End: high,
    }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    go(to);
  }

  function point() {
    const [course, cursorM, units] = ["course", "cursorM", "units"].map(store.get);
    if (!course) return;
    const [low, high] = range();
    Object.assign(slider, { min: low, max: high, value: cursorM });
    readout.textContent = `${low <= cursorM && cursorM <= high ? "" : "Elsewhere: "}${placeWords(course, cursorM, unitsOf(units))}`;
    slider.setAttribute("aria-valuetext", readout.textContent);
    cursor.show(cursorM - shift(cursorM));
  }

  let running = null;
  async function draw() {
    running?.abort();
    node.hidden = !focus();
    if (node.hidden) return;
    const { signal } = (running = new AbortController());
    const query = (theme, width) => ({ focus: focus(), width, theme, units: store.get("units") });
    const address = (course) => `/v1/courses/${course}/profile`;
    try {
      const [svg, held] = await withCourse(store, async (course) => [
        await call(address(course), { query: query(store.get("look"), widthOf(sheet)), accept: "image/svg+xml", signal }), course,
      ], signal);
      fill(trouble);
      fill(sheet, readPicture(svg));
      point();
      paper.alt = sheet.querySelector("title").textContent;
      paper.src = `${address(held)}?${new URLSearchParams(query("print", 960))}`;
    } catch (error) {
      if (!calledOff(error)) fill(trouble, problemBox(error));
    }
  }

  store.on(["course", "units", "look", ...keys], draw);
  store.on(["course", "cursorM", "units"], point);
  redrawn(sheet, draw);
  return { node, sheet };
}

/** Calls draw when the width that a picture is asked for has changed. */
function redrawn(sheet, draw) {
  let width = 0;
  new ResizeObserver(() => {
    sheet.classList.toggle("whole", sheet.scrollWidth <= sheet.clientWidth);
    if (sheet.clientWidth === 0 || Math.abs(widthOf(sheet) - width) < 16) return;
    if (width) draw();
    width = widthOf(sheet);
  }).observe(sheet);
}

/** The width in px that a picture is asked for: the sheet's, as far as pictures go. */
export const widthOf = (sheet) => Math.min(Math.max(Math.round(sheet.clientWidth) || 960, 480), 1600);

/** Turns the service's SVG into an element of this page. */
export function readPicture(text) {
  return document.importNode(new DOMParser().parseFromString(text, "image/svg+xml").documentElement, true);
}

/**
 * A line over a sheet's picture at a position along the course, for pictures that say where
 * their plot is; moved(m) is told where a pointer goes. plot() is {x0, x1, y0, y1, fromM, toM},
 * null where the picture has none.
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

  /** Scrolls a sheet that is narrower than its picture to the line. */
  function reveal(x, svg) {
    const at = (x / svg.viewBox.baseVal.width) * svg.getBoundingClientRect().width;
    const margin = sheet.clientWidth / 8;
    if (at < sheet.scrollLeft + margin) sheet.scrollLeft = at - margin;
    else if (at > sheet.scrollLeft + sheet.clientWidth - margin) sheet.scrollLeft = at + margin - sheet.clientWidth;
  }

  return {
    plot,
    show(m) {
      const p = plot();
      here.remove();
      if (!p || m < p.fromM || m > p.toM) return;
      const svg = sheet.querySelector("svg");
      const x = p.x0 + ((m - p.fromM) / (p.toM - p.fromM)) * (p.x1 - p.x0);
      for (const [name, value] of Object.entries({ x1: x, x2: x, y1: p.y0, y2: p.y1 })) line.setAttribute(name, value);
      svg.append(here);
      if (sheet.scrollWidth > sheet.clientWidth && !sheet.matches(":hover")) reveal(x, svg);
    },
  };
}
