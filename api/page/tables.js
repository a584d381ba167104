// The course's climbs, marks, descents and gradients as tables. inPart(m) says whether what
// starts at a position is shown; go(m) is called with a position that is asked for.

import { el, table } from "./dom.js";
import { climbTitle, markKinds, partAt, partNames } from "./whereabouts.js";
import { chance, count, gradient, rounded } from "./wording.js";

/**
 * The passes of what has passes, in course order. On a course of laps of which all is shown,
 * each thing is told once, at its first pass, with where it is passed.
 */
function passesOf(course, things, inPart, start) {
  const all = things.flatMap((thing) => thing.passes.map((pass) => ({ thing, pass, at: pass[start] }))).filter((p) => inPart(p.at)).sort((a, b) => a.at - b.at);
  if (course.parts.length < 2) return all.map((p) => ({ ...p, where: [] }));
  const told = inPart === everywhere ? all.filter((p) => p.pass === p.thing.passes[0]) : all;
  return told.map((p) => ({ ...p, where: [partNames((told === all ? [p.pass] : p.thing.passes).map((pass) => partAt(course, pass[start])))] }));
}

/** The inPart of the whole course. */
export const everywhere = () => true;

const whereHead = (course) => (course.parts.length > 1 ? ["Where"] : []);
const captionOf = (each, course, inPart, more) => `${each} ${course.parts.length > 1 && inPart === everywhere ? "at its first pass" : "on each pass"}${more}`;
const goTo = (words, go) => el("button", { type: "button", class: "plain", onclick: go }, words);

/** The climbs; go(climb, m) is called with the pass's foot. */
export function climbTable(course, inPart, u, go) {
  const passes = passesOf(course, course.climbs, inPart, "start_m");
  if (!passes.length) return null;
  const rows = passes.map(({ thing: c, pass, where }) => {
    const steepest = c.steepest.findLast((w) => w.window_m <= 100);
    return [
      goTo(climbTitle(course, c), () => go(c, pass.start_m)), ...where, u.covered(pass.start_m),
      pass.partial ? "beyond the finish" : u.covered(pass.end_m), u.toGo(course.distance_m, pass.start_m), u.length(c.length_m), u.height(c.gain_m),
      gradient(c.mean_gradient_pct), gradient(c.max_gradient_pct), steepest ? `${gradient(steepest.gradient_pct)} over ${u.height(steepest.window_m)}` : "",
    ];
  });
  return [el("h3", {}, "Climbs"), table(captionOf("Each climb", course, inPart, "; its name shows it closely"),
    ["Climb", ...whereHead(course), [`Foot, ${u.long}`, "n"], [`Top, ${u.long}`, "n"], [`To go, ${u.long}`, "n"], ["Length", "n"], ["Gain", "n"], ["Mean", "n"],
      [`Most over ${u.height(course.climbs[0].max_window_m)}`, "n"], ["Steepest stretch", "n"]], rows)];
}

/** The marks with how the road comes up to them. */
export function markTable(course, inPart, u, go) {
  const passes = passesOf(course, course.marks, inPart, "at_m");
  if (!passes.length) return null;
  const before = [...new Set(passes.flatMap((p) => p.pass.approach.map((a) => a.distance_m)))].sort((a, b) => b - a);
  const rows = passes.map(({ thing: m, pass, where }) => [
    goTo(m.name, () => go(pass.at_m)), markKinds[m.kind], ...where, u.covered(pass.at_m), u.toGo(course.distance_m, pass.at_m),
    pass.gradient_pct === undefined ? "" : gradient(pass.gradient_pct),
    ...before.map((distance) => approachWords(pass.approach.find((a) => a.distance_m === distance), u)),
  ]);
  return [el("h3", {}, "Marks"), table(captionOf("Each mark", course, inPart, ", with the road before it"),
    ["Mark", "What", ...whereHead(course), [`At, ${u.long}`, "n"], [`To go, ${u.long}`, "n"], ["Gradient into it", "n"], ...before.map((d) => `The last ${u.length(d)}`)], rows)];
}

/** How the road before a mark runs. */
function approachWords(a, u) {
  if (!a) return "";
  const words = [];
  if (a.mean_gradient_pct !== undefined) words.push(gradient(a.mean_gradient_pct));
  if (a.max_gradient_pct > Math.max(a.mean_gradient_pct + 1, 3)) words.push(`up to ${gradient(a.max_gradient_pct)}`);
  if (a.bends_count) words.push(a.bends_count === 1 ? "1 bend" : `${count(a.bends_count)} bends`);
  if (a.sharpest_radius_m !== undefined) words.push(`radius ${u.radius(a.sharpest_radius_m)}`);
  return words.join(", ");
}

/** The descents with their sharpest bends. */
export function descentTable(course, inPart, u, go) {
  const passes = passesOf(course, course.descents, inPart, "start_m");
  if (!passes.length) return null;
  const rows = passes.map(({ thing: d, pass, where }) => [
    goTo(`Descent ${d.descent_id.replace("descent-", "")}`, () => go(pass.start_m)), ...where, u.covered(pass.start_m),
    pass.partial ? "beyond the finish" : u.covered(pass.end_m), u.length(d.length_m), u.height(d.drop_m), gradient(d.mean_gradient_pct), gradient(d.max_gradient_pct),
    d.sharpest_bends.slice(0, 3).map((b) => bendWords(b, d, u)).join("; "),
  ]);
  return [el("h3", {}, "Descents"),
    el("p", { class: "caution" }, "Radii come from the file's points, not from the road: look at each bend before you ride it at speed."),
    table(captionOf("Each descent", course, inPart, ", with its sharpest bends"),
      ["Descent", ...whereHead(course), [`Top, ${u.long}`, "n"], [`Bottom, ${u.long}`, "n"], ["Length", "n"], ["Drop", "n"], ["Mean", "n"],
        [`Steepest over ${u.height(course.descents[0].max_window_m)}`, "n"], "Sharpest bends"], rows)];
}

const bendWords = (b, d, u) =>
  `radius ${u.radius(b.radius_m)}, ${rounded(Math.abs(b.turn_deg), 0)}° to the ${b.turn_deg > 0 ? "right" : "left"}, ${u.length(b.at_m - d.start_m)} down`;

/** How much of the course runs at which gradient. */
export function bandTable(course, u) {
  const bands = course.gradient_bands.filter((b) => b.length_m > 0);
  if (!bands.length) return null;
  const words = ({ from_pct: from, to_pct: to }) => (from === undefined ? `below ${gradient(to)}` : to === undefined ? `${gradient(from)} and more` : `${gradient(from)} to ${gradient(to)}`);
  return [el("h3", {}, "Gradients"), table("How much of the course runs at which gradient", ["Gradient", ["Length", "n"], ["Of the course", "n"]],
    bands.map((b) => [words(b), u.length(b.length_m), chance(b.length_m / course.distance_m)]))];
}
