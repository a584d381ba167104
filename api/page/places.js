// What comes next: climbs, marks and laps in the order in which they are ridden, and tables of
// them, for the whole course or for a lap of it.

import { mountCloseup } from "./closeup.js";
import { el, fill, table } from "./dom.js";
import { bandTable, climbTable, descentTable, everywhere, markTable } from "./tables.js";
import { climbName, markKinds, partAt, partName, wholeOf } from "./whereabouts.js";
import { gradient, list, unitsOf } from "./wording.js";

/** How near to each other things share a row, in m, as in the service's itineraries. */
const onePlaceM = 5;

/** Fills the section with the places of the course. */
export function mountPlaces(section, store) {
  const choice = el("select", { id: "places-part", autocomplete: "off", onchange: () => store.set({ part: choice.value }) });
  const chooser = el("div", { class: "field" }, el("label", { for: "places-part" }, "Shown"), choice);
  const next = el("p", { class: "told no-print" });
  const rows = el("div", { class: "next" });
  const climbs = el("div");
  const others = el("div");
  const closeup = mountCloseup(store);
  fill(section, el("h2", { id: "places-title" }, "What comes next"), el("div", { class: "row no-print" }, chooser), next,
    el("p", { class: "soft no-print" }, "A click on a place, or the arrow keys and Enter, show it in the profile."), rows, climbs, closeup, others);

  let places = []; // of what is shown
  let all = [];
  let shownPart = null;

  function show() {
    const [course, u] = [store.get("course"), unitsOf(store.get("units"))];
    if (!course) return;
    const part = chosenPart(course, store.get("part"), store.get("cursorM"));
    shownPart = part;
    const inPart = part ? (m) => partAt(course, m) === part : everywhere;
    all = placesOf(course);
    places = all.filter((p) => inPart(p.atM));
    fill(rows, placeTable(course, places, u));
    rove(rows.querySelector("table"), (i) => go(places[i].atM));
    fill(climbs, climbTable(course, inPart, u, goClimb));
    fill(others, markTable(course, inPart, u, go), descentTable(course, inPart, u, go), bandTable(course, u));
    follow();
  }

  /** Marks where the cursor is, and says what comes next. */
  function follow() {
    const [course, cursorM, u] = [store.get("course"), store.get("cursorM"), unitsOf(store.get("units"))];
    if (!course) return;
    if (store.get("part") === "cursor" && partAt(course, cursorM) !== shownPart) return show();
    const ahead = all.filter((p) => p.atM > cursorM + onePlaceM).slice(0, 3);
    next.textContent = ahead.length ? `Next: ${list(...ahead.map((p) => `${wordsOf(p)} in ${u.length(p.atM - cursorM)}`))}.` : "Nothing comes any more.";
    const now = places.findLastIndex((p) => p.atM <= cursorM + onePlaceM);
    mark(rows, now);
  }

  /** Goes to a place, and shows it in the profile. */
  function go(m) {
    store.set({ cursorM: m, ...(store.get("focus").startsWith("climb-") ? { focus: "course" } : {}) });
    document.getElementById("picture").scrollIntoView({ block: "nearest" });
  }

  function goClimb(climb, m) {
    store.set({ climb: climb.climb_id, cursorM: m });
    closeup.scrollIntoView({ block: "nearest" });
  }

  store.on(["course"], ({ course }) => {
    section.hidden = !course;
    if (!course) return;
    chooser.hidden = course.parts.length < 2;
    fill(choice, el("option", { value: "" }, "the whole course"), el("option", { value: "cursor" }, "the lap where the cursor is"),
      course.parts.map((p, i) => el("option", { value: i }, partName(p))));
    store.set({ part: "" });
    choice.value = "";
  });
  store.on(["course", "units", "part"], show);
  store.on(["cursorM"], follow);
}

/** The part that is shown, null for all. */
function chosenPart(course, part, cursorM) {
  if (part === "cursor") return partAt(course, cursorM);
  return part === "" ? null : course.parts[part];
}

/** Everything that counts on the course, in order; what falls on one place is one. */
function placesOf(course) {
  const things = [{ atM: 0, what: "start" }, { atM: course.distance_m, what: "finish" }];
  for (const p of course.parts) if (p.kind === "lap" || p.kind === "run_out") things.push({ atM: p.start_m, what: partName(p) });
  for (const c of course.climbs) {
    const [foot, top] = endsOf(course, c);
    for (const p of c.passes) {
      things.push({ atM: p.start_m, what: foot, climb: c });
      if (!p.partial) things.push({ atM: p.end_m, what: top });
    }
  }
  for (const m of course.marks) for (const p of m.passes) things.push({ atM: p.at_m, what: m.name, mark: m, pass: p });
  const places = [];
  for (const thing of things.sort((a, b) => a.atM - b.atM)) {
    if (thing.atM - (places.at(-1)?.atM ?? -Infinity) > onePlaceM) places.push({ atM: thing.atM, things: [] });
    places.at(-1).things.push(thing);
  }
  return places;
}

/** What a climb's ends are called, as in the service's itineraries. */
function endsOf(course, climb) {
  const whole = wholeOf(course, climb);
  if (!whole) return [`foot of ${climbName(climb)}`, `top of ${climbName(climb)}`];
  const part = `${climb.parent_climb_id ? "steep part" : "part"} of ${climbName(whole)}`;
  return [`${part} begins`, `${part} ends`];
}

/** What is at a place; a name that stands in another already is left out. */
function wordsOf(place) {
  const words = place.things.map((t) => t.what);
  const says = (other, w) => other.toLowerCase().includes(w.toLowerCase());
  return words.filter((w, i) => !words.some((other, k) => k !== i && (other.length > w.length || k < i) && says(other, w))).join(", ");
}

function placeTable(course, places, u) {
  const parts = course.parts.length > 1;
  const heads = ["Place", [`Covered, ${u.long}`, "n"], [`To go, ${u.long}`, "n"], parts ? "Where" : null, "To know"].filter(Boolean);
  const rows = places.map((p) => [
    el("button", { type: "button", class: "plain" }, capital(wordsOf(p))), u.covered(p.atM), u.toGo(course.distance_m, p.atM),
    parts ? partName(partAt(course, p.atM)) : null,
    p.things.map((t) => known(t, u)).filter(Boolean).join("; "),
  ].filter((cell) => cell !== null));
  return table("In the order in which they are ridden", heads, rows);
}

/** What to know of a thing at its place. */
function known({ climb, mark, pass }, u) {
  if (climb) return `${u.length(climb.length_m)} at ${gradient(climb.mean_gradient_pct)}, ${u.height(climb.gain_m)} up`;
  if (mark) return [markKinds[mark.kind], pass.gradient_pct === undefined ? null : `${gradient(pass.gradient_pct)} into it`].filter(Boolean).join(", ");
  return null;
}

const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/** One stop for the Tab key in a table of buttons; arrow keys go through its rows. */
function rove(node, go) {
  const buttons = [...node.querySelectorAll("button")];
  const enter = (i) => {
    for (const b of buttons) b.tabIndex = -1;
    if (buttons[i]) buttons[i].tabIndex = 0;
  };
  enter(0);
  node.addEventListener("click", (event) => {
    const i = buttons.indexOf(event.target.closest("tr")?.querySelector("button"));
    if (i >= 0) {
      enter(i);
      go(i);
    }
  });
  node.addEventListener("keydown", (event) => {
    const i = buttons.indexOf(document.activeElement);
    const to = { ArrowDown: Math.min(i + 1, buttons.length - 1), ArrowUp: Math.max(i - 1, 0), Home: 0, End: buttons.length - 1 }[event.key];
    if (i < 0 || to === undefined) return;
    event.preventDefault();
    enter(to);
    buttons[to].focus();
  });
}

/** Marks the row where the cursor is, and keeps it in sight in its box. */
function mark(rows, now) {
  const old = rows.querySelector("tr[aria-current]");
  const row = rows.querySelectorAll("tbody tr")[now];
  if (old === row) return;
  old?.removeAttribute("aria-current");
  if (!row) return;
  row.setAttribute("aria-current", "location");
  const box = rows.querySelector(".wide");
  const [top, bottom] = [row.offsetTop, row.offsetTop + row.offsetHeight];
  if (top < box.scrollTop + 3 * row.offsetHeight) box.scrollTop = top - 3 * row.offsetHeight;
  else if (bottom > box.scrollTop + box.clientHeight - row.offsetHeight) box.scrollTop = bottom - box.clientHeight + row.offsetHeight;
}
