// The course at a glance: its figures, how far to trust them, and its picture.

import { el, fill } from "./dom.js";
import { coursePicture } from "./picture.js";
import { climbName } from "./whereabouts.js";
import { gradient, percent, unitsOf } from "./wording.js";

/** Fills the section whenever the course, the units or the look change. */
export function mountProfile(section, store) {
  const facts = el("dl", { class: "facts" });
  const warnings = el("div");
  const title = el("h2", { id: "profile-title" });
  store.on(["course"], ({ course }) => (section.hidden = !course));
  const choice = pictureChoice(store);
  const picture = coursePicture(store, { id: "cursor", words: "Along the course", keys: ["focus"], focusOf: ({ focus }) => focus });
  picture.sheet.id = "picture";
  fill(section, title, facts, warnings, choice, picture.node);

  store.on(["course", "units"], ({ course, units }) => {
    if (!course) return;
    title.textContent = course.name || "The course";
    fill(facts, factsOf(course, unitsOf(units)).map(([word, value]) => el("div", {}, el("dt", {}, word), el("dd", {}, value))));
    fill(warnings, warningsOf(course, unitsOf(units)));
  });
}

const shapes = {
  lapped: "laps", out_and_back: "out and back", lollipop: "out, round and back", circuit: "a circuit", point_to_point: "from one place to another",
};

function factsOf(course, u) {
  const facts = [["long", u.length(course.distance_m)]];
  if (course.ascent_m !== undefined) facts.push(["of climbing", u.height(course.ascent_m)]);
  if (course.laps.count > 1) facts.push([`laps of ${u.length(course.laps.length_m)}`, String(course.laps.count)]);
  else facts.push(["its shape", shapes[course.shape]]);
  if (course.max_elevation_m !== undefined) facts.push(["lowest to highest", `${u.height(course.min_elevation_m)} – ${u.height(course.max_elevation_m)}`]);
  const steepest = course.steepest.findLast((w) => w.window_m <= 100);
  if (steepest?.gradient_pct >= 1) facts.push([`at its steepest over ${u.height(steepest.window_m)}`, gradient(steepest.gradient_pct)]);
  const { share_before_last_climb: share } = course.climbing;
  if (share > 0) facts.push(["of the climbing before the last climb", percent(share)]);
  return facts;
}

/** What the service found odd in the file, each with its place. */
function warningsOf(course, u) {
  const { warnings } = course.quality;
  if (!warnings.length) return null;
  return el("details", { open: warnings.length < 4 }, el("summary", {}, `How far to trust the file (${warnings.length})`),
    el("ul", {}, warnings.map((w) => el("li", {}, w.at_m === undefined ? null : `At ${u.length(w.at_m)}: `, w.detail))));
}

/** The choice of what is drawn: the course, its laps, its map, or a climb of it. */
function pictureChoice(store) {
  const choice = el("fieldset", { class: "drawn" });
  const choose = (focus) => {
    const [course, cursorM] = [store.get("course"), store.get("cursorM")];
    const climb = course.climbs.find((c) => c.climb_id === focus);
    const on = climb?.passes.some((p) => p.start_m <= cursorM && cursorM <= p.end_m);
    store.set(climb && !on ? { focus, cursorM: climb.start_m } : { focus });
  };
  const radio = (focus, words) => el("label", {}, el("input", { type: "radio", name: "focus", value: focus, autocomplete: "off", onchange: () => choose(focus) }), " ", words);

  store.on(["course", "units"], ({ course, units }) => {
    if (!course) return;
    const u = unitsOf(units);
    const climbs = el("select", { id: "focus-climb", autocomplete: "off", onchange: () => choose(climbs.value) }, course.climbs.map((c) =>
      el("option", { value: c.climb_id }, `${climbName(c)}, ${u.length(c.length_m)} at ${gradient(c.mean_gradient_pct)}`)));
    fill(choice, el("legend", {}, "Drawn"),
      radio("course", "the whole course"),
      course.laps.count > 1 && course.ascent_m !== undefined ? radio("laps", "the laps over each other") : null,
      course.quality.position_noise_m !== undefined ? radio("map", "the map") : null,
      course.climbs.length ? [
        el("label", {}, el("input", { type: "radio", name: "focus", value: "climb", autocomplete: "off", onchange: () => choose(climbs.value) }), " a climb"),
        el("label", { class: "out-of-sight", for: "focus-climb" }, "Which climb"), climbs] : null);
  });
  store.on(["course", "units", "focus"], ({ course, focus }) => {
    if (!course) return;
    const climb = focus.startsWith("climb-");
    for (const input of choice.querySelectorAll("input")) input.checked = input.value === (climb ? "climb" : focus);
    if (climb) choice.querySelector("select").value = focus;
  });
  return choice;
}
