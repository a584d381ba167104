// The places of a course that questions are asked about, with their passes.

import { el, fill } from "./dom.js";
import { climbName } from "./whereabouts.js";
import { follow } from "./racefields.js";
import { unitsOf } from "./wording.js";

/** The kinds of places: where riders arrive, what they can be good at, and all. */
export const lineKinds = ["finish", "sprint", "summit", "gate"];
export const goalKinds = ["sprint", "climb", "summit", "gate"];
export const everyKind = ["finish", "sprint", "climb", "summit", "gate", "feed", "other"];

/**
 * The places of some kinds, in course order: {at, kind, words, passes}. A summit that a climb
 * is named after stands for itself only where climbs aren't asked for.
 */
function placesOf(course, kinds) {
  const places = [];
  const climbs = kinds.includes("climb") ? course.climbs.filter((c) => !c.parent_climb_id) : [];
  for (const c of climbs) {
    places.push({ at: { climb_id: c.climb_id }, kind: "climb", words: climbName(c), passes: c.passes.map((p) => ({ lap: p.lap, m: p.start_m })) });
  }
  for (const m of course.marks) {
    if (m.kind === "summit" && climbs.some((c) => c.name === m.name)) continue;
    places.push({ at: { mark_id: m.mark_id }, kind: m.kind, words: m.name, passes: m.passes.map((p) => ({ lap: p.lap, m: p.at_m })) });
  }
  places.sort((a, b) => (a.passes[0]?.m ?? 0) - (b.passes[0]?.m ?? 0));
  places.push({ at: { finish: true }, kind: "finish", words: "The finish", passes: [] });
  return places.filter((p) => kinds.includes(p.kind));
}

/** What of a place can be chosen, as [JSON of the contract's CoursePlace, words]. */
function passChoices(place, u) {
  const of = (at) => JSON.stringify(at);
  if (place.passes.length < 2) return [[of(place.at), place.words]];
  const passes = place.passes.map((p, i) => [of({ ...place.at, pass: i + 1 }), `${p.lap ? `lap ${p.lap}` : `pass ${i + 1}`}, at ${u.length(p.m)}`]);
  return [[of(place.at), `all ${place.passes.length} passes`], ...passes];
}

/** The course's places as choices of a select, in groups where there are passes. */
export function placeChoices(store, kinds) {
  const u = unitsOf(store.get("units"));
  return placesOf(store.get("course"), kinds).map((place) => {
    const choices = passChoices(place, u);
    if (choices.length === 1) return choices[0];
    return [place.words, choices.map(([value, words]) => [value, `${place.words}, ${words}`])];
  });
}

/**
 * Boxes to tick for the places of some kinds, each with a choice of pass; ticked(kind) says
 * which are at first. get returns the contract's places.
 */
export function placeBoxes(store, { id, legend, kinds, ticked }) {
  const list = el("ul", { class: "ticks" });
  const node = el("fieldset", {}, el("legend", {}, legend), list);
  let boxes = [];
  let shownOf = null;
  follow(store, ["course", "units"], () => {
    const course = store.get("course");
    if (!course) return;
    const before = shownOf === course ? boxes : [];
    shownOf = course;
    const u = unitsOf(store.get("units"));
    boxes = placesOf(course, kinds).map((place, i) => {
      const box = el("input", { type: "checkbox", id: `${id}-${i}`, checked: before[i]?.box.checked ?? ticked(place.kind) });
      const choices = passChoices(place, u);
      const pass = choices.length < 2 ? null : el("select", { "aria-label": `Which pass: ${place.words}` }, choices.map(([value, words]) => el("option", { value }, words)));
      if (pass && before[i]) pass.value = before[i].pass.value;
      return { box, pass, place, node: el("li", {}, box, " ", el("label", { for: box.id }, place.words), pass ? [" ", pass] : null) };
    });
    node.hidden = boxes.length === 0;
    fill(list, boxes.map((b) => b.node));
  });
  return { node, get: () => boxes.filter((b) => b.box.checked).map((b) => (b.pass ? JSON.parse(b.pass.value) : b.place.at)) };
}
