// What is told of rides, predicted or planned: the times at each place of one of them, what it
// takes of food, what was assumed, and what to be careful of.

import { conditionFields, pointed } from "./asked.js";
import { el, fill, table } from "./dom.js";
import { climbName } from "./whereabouts.js";
import { certainty, clock, grams, kilocalories, kilograms, kilojoules, list, number, unitsOf, watts, wattsPerKilogram } from "./wording.js";

/** What a ride is called: its rider, and its set-up where there are several. */
export const rideName = (ride, all) => (all.some((r) => r.setup_index) ? `${ride.rider}, ${ride.setup}` : ride.rider);

/** The band of a time, or why it has no end. */
export function bandWords(ride, u) {
  if (!ride.band) return "";
  if (ride.time_high_s === undefined) return `from ${clock(ride.time_low_s)}; may come to a halt at ${u.length(ride.band.halt.at_m)}`;
  return `${clock(ride.time_low_s)} – ${clock(ride.time_high_s)}`;
}

/** The lowest balance of W′ and where, or that it isn't known. */
export function balanceWords(ride, u) {
  if (ride.w_balance_min_j === undefined) return "not known without critical power and W′";
  if (!(ride.w_balance_min_at_m > 0)) return `stays full, ${kilojoules(ride.w_balance_min_j)}`;
  return `${kilojoules(ride.w_balance_min_j)} at ${u.length(ride.w_balance_min_at_m)}`;
}

/** Why a ride can't be ridden. */
export const whyNot = (problem, u) => (problem.at_m === undefined ? problem.detail : `${problem.title}: a halt at ${u.length(problem.at_m)}`);

/**
 * The part of the answer that is about one ride, with a choice of which. parts(ride, u, course)
 * gives what is shown; told(ride) is told which is chosen; name(ride, all) is what it is called.
 */
export function makeChoice(id, words, store, parts, told = () => {}, name = rideName) {
  const select = el("select", { id, onchange: () => (show(), told(rides[select.selectedIndex])) });
  const chosen = el("div");
  const node = el("div", { hidden: true }, el("div", { class: "row no-print" }, el("div", { class: "field" }, el("label", { for: id }, words), select)), chosen);
  let rides = [];

  function show() {
    const ride = rides[select.selectedIndex];
    node.hidden = !ride;
    fill(chosen, ride ? parts(ride, unitsOf(store.get("units")), store.get("course")) : null);
  }
  return {
    node,
    chosen: () => rides[select.selectedIndex],
    /** Takes the rides of an answer; one in the same place stays chosen. */
    take(all) {
      const at = Math.max(select.selectedIndex, 0);
      rides = all.filter((r) => !r.problem);
      fill(select, rides.map((r) => el("option", {}, name(r, all))));
      select.selectedIndex = at < rides.length ? at : rides.length - 1;
      show();
    },
  };
}

/** The times of one ride at each part, climb and mark. */
export function splitsTable(ride, u, course) {
  const rows = ride.splits.map((s) => [
    placeName(s, course), s.end_m > s.start_m ? `${u.bare(s.start_m)} – ${u.bare(s.end_m)}` : u.bare(s.end_m), clock(s.time_s), clock(s.clock_s),
    s.mean_speed_mps === undefined ? "" : u.speed(s.mean_speed_mps), s.mean_power_w === undefined ? "" : watts(s.mean_power_w),
    s.vam_m_per_h === undefined ? "" : `${u.height(s.vam_m_per_h)}/h`,
  ]);
  return table(`Times of ${ride.rider} at each place: parts of the course, climbs and marks; at a mark, the time since its last pass`,
    ["Place", [u.long, "n"], ["It takes", "n"], ["Clock there", "n"], ["Speed", "n"], ["Power", "n"], ["Climbing", "n"]], rows);
}

/** A part, a climb or a mark, with its pass. */
export function placeName(split, course) {
  const pass = split.pass > 1 || (split.pass && split.lap) ? `, pass ${split.pass}` : "";
  if (split.of === "climb") return `${climbName(course.climbs.find((c) => c.climb_id === split.id) ?? { climb_id: split.id })}${pass}`;
  if (split.of === "mark") return `${split.name || split.id}${pass}`;
  return { lap: `Lap ${split.lap}`, lead_in: "Lead-in", run_out: "Run-out" }[split.kind] ?? "The whole course";
}

/** Food and drink of one ride, as general guidance. */
export function foodOf(ride, u) {
  const f = ride.food;
  if (!f) return null;
  const between = (r, write) => (write(r.low) === write(r.high) ? write(r.high) : write(r.low) === write(0) ? `up to ${write(r.high)}` : `${write(r.low).split(" ")[0]} to ${write(r.high)}`);
  return el("details", {}, el("summary", {}, `Food and drink of ${ride.rider}: ${kilocalories(f.energy_kcal)}`),
    el("p", {}, `General guidance: ${between(f.carbohydrate_g, grams)} of carbohydrate in all (${between(f.carbohydrate_g_per_h, grams)} an hour), `,
      `${between(f.drink_l, u.drink)} of drink (${between(f.drink_l_per_h, u.drink)} an hour${f.hot ? ", for heat" : ""}). ${f.note}`),
    f.stages ? table("What to carry on each stage between feeds", [[u.long, "n"], ["Time", "n"], ["Carbohydrate", "n"], ["Drink", "n"]],
      f.stages.map((s) => [`${u.bare(s.start_m)} – ${u.bare(s.end_m)}`, clock(s.time_s), between(s.carbohydrate_g, grams), between(s.drink_l, u.drink)])) : null,
    el("p", { class: "soft" }, `Sources: ${f.source}.`));
}

/** What the service assumed, each with its source; what holds for several is told once. */
export function assumptionsOf(assumptions, rides, u) {
  const found = new Map();
  for (const a of assumptions) {
    const { list: whose, index, words, quantity } = pointed(a.pointer);
    const value = spoken(quantity ?? (a.unit === "1" ? "" : a.unit), a.value, u);
    const key = [whose, words, value, a.source].join("\n");
    if (!found.has(key)) found.set(key, { words, value, source: a.source, whose: [] });
    const name = whose === "riders" ? rides.find((r) => r.rider_index === index)?.rider : whose === "setups" ? rides.find((r) => r.setup_index === index)?.setup : null;
    if (name && !found.get(key).whose.includes(name)) found.get(key).whose.push(name);
  }
  return el("details", {}, el("summary", {}, `What was assumed (${found.size})`),
    table("Values that weren't given, as the service chose them", ["What", "Of", ["Value", "n"], ["Source", "t"]],
      [...found.values()].map((a) => [a.words, list(...a.whose), a.value, a.source])));
}

/** A value of a quantity as it is typed in forms, or in a unit. */
function spoken(quantity, value, u) {
  if (Array.isArray(quantity)) return quantity.find(([v]) => v === JSON.stringify(value))?.[1] ?? String(value);
  switch (quantity) {
    case "share": return certainty(100 * value);
    case "mass": case "kg": return u.imperial ? u.mass(value) : kilograms(value);
    case "speed": case "m/s": return u.speed(value);
    case "stature": return `${number(value, 2)} m`;
  }
  if (quantity === "°") return `${number(value, 0)}°`;
  return quantity ? `${number(value, 5)} ${quantity}` : number(value, 5);
}

/** What was asked: how hard the riders ride, and the conditions that were given. */
export function askedWords({ riders, effort, conditions }, u) {
  const how = effort && {
    own_power: () => `at powers of their own: ${list(...riders.map((r, i) => `${r.name ?? `Rider ${i + 1}`} at ${watts(r.power_w)}`))}`,
    power: () => `at ${watts(effort.power_w)}`, power_per_mass: () => `at ${wattsPerKilogram(effort.w_per_kg)}`,
    fraction: () => `at ${certainty(100 * effort.of_critical_power)} of critical power`, time: () => `in ${clock(effort.time_s)}`, best: () => "with all they have",
  }[effort.kind]();
  const given = conditionFields.filter(([name]) => conditions?.[name] !== undefined)
    .map(([name, words, quantity]) => `${name === "indoor" ? "" : `${words[0].toLowerCase()}${words.slice(1)} `}${spoken(quantity, conditions[name], u)}`);
  return el("p", {}, `Asked: ${[how, ...(given.length ? given : ["outdoors, in calm air"])].filter(Boolean).join("; ")}.`);
}

export const cautionsOf = (cautions) => el("ul", { class: "caution" }, cautions.map((c) => el("li", {}, c)));
