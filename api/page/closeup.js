// One climb closely: its picture, its sections, its steepest stretches.

import { el, fill, table } from "./dom.js";
import { coursePicture } from "./picture.js";
import { climbName } from "./whereabouts.js";
import { gradient, number, unitsOf } from "./wording.js";

/** Makes the part of the page about one climb; hidden where the course has none. */
export function mountCloseup(store) {
  const title = el("h3");
  const facts = el("p");
  const tables = el("div", { class: "row tops" });
  const node = el("div", { hidden: true });
  store.on(["course"], ({ course }) => (node.hidden = !course?.climbs.length));
  const picture = coursePicture(store, {
    id: "cursor-climb", words: "Along the climb", keys: ["course", "climb"], focusOf: (state) => chosen(state)?.climb_id ?? null,
  });
  fill(node, title, facts, picture.node, tables);

  store.on(["course", "climb", "units"], (state) => {
    const climb = state.course && chosen(state);
    if (!climb) return;
    const u = unitsOf(state.units);
    title.textContent = `${climbName(climb)} closely`;
    facts.textContent = factsOf(climb, u);
    fill(tables, sectionTable(climb, u), steepestTable(climb, u));
  });
  return node;
}

/** The climb that was chosen, or the one with the highest index. */
function chosen({ course, climb }) {
  return course.climbs.find((c) => c.climb_id === climb)
    ?? course.climbs.reduce((most, c) => (c.difficulty.h2_index > (most?.difficulty.h2_index ?? -1) ? c : most), null);
}

function factsOf(c, u) {
  return `${u.length(c.length_m)} at ${gradient(c.mean_gradient_pct)}, ${u.height(c.gain_m)} up, from ${u.height(c.bottom_elevation_m)} to ${u.height(c.top_elevation_m)}. `
    + `Difficulty index ${number(c.difficulty.h2_index, 1)}: the gain squared over ten times the length, and a point for each 1000 m that its top is above 1000 m.`;
}

function sectionTable(c, u) {
  return table("Its sections, from the foot", [["From", "n"], ["To", "n"], ["Length", "n"], ["Mean", "n"], [`Most over ${u.height(c.max_window_m)}`, "n"]],
    c.sections.map((s) => [u.length(s.start_m - c.start_m), u.length(s.end_m - c.start_m), u.length(s.length_m), gradient(s.mean_gradient_pct), gradient(s.max_gradient_pct)]));
}

function steepestTable(c, u) {
  return table("Its steepest stretches", [["Over", "n"], ["Gradient", "n"], ["From the foot", "n"]],
    c.steepest.map((w) => [u.height(w.window_m), gradient(w.gradient_pct), u.length(w.start_m - c.start_m)]));
}
