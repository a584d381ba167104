// What is told of recorded rides: the difference and its parts, place by place, how far to trust
// the recording, what is learnt, and how near the predictions came over the round.

import { el, fill, table } from "./dom.js";
import { more } from "./racefields.js";
import { placeName } from "./rides.js";
import { certainty, clock, kilojoules, number, percent, seconds, watts } from "./wording.js";

/** The parts of a difference, in the order of the chain, with what each is. */
const parts = [
  ["start_s", "The speed at the start", "as it was ridden"],
  ["power_s", "The power", "the mean over the ride against the one foreseen"],
  ["pacing_s", "When and where it was spent", "against where the effort foreseen put it"],
  ["drag_s", "Drag", "as learnt against as assumed"],
  ["rolling_s", "Rolling resistance", "as learnt against as assumed"],
  ["shelter_s", "Shelter", "on stretches that look sheltered"],
  ["stops_s", "Standing", "the time stood"],
  ["rest_s", "None of these", "bends and brakes as they were ridden, wind, errors of elevation, mass and power meter, and of the model"],
];

/** A difference of times with its sign, without one where it is told as nought. */
const signed = (s) => `${Math.abs(s) < 0.05 ? "" : s < 0 ? "−" : "+"}${seconds(s)}`;
const signedPercent = (pct) => (pct === undefined ? "–" : `${pct < -0.05 ? "−" : pct > 0.05 ? "+" : ""}${certainty(Math.abs(pct))}`);
const orNone = (v, write) => (v === undefined ? "–" : write(v));
const plusMinus = (v, error, write, unit = "") => (error === undefined ? `${write(v)}${unit}` : `${write(v)} ± ${write(error)}${unit}`);
const area = (v) => v.toFixed(3);
const rolling = (v) => v.toFixed(4);

/** All rides in a line each, with why one can't be told. */
export function ridesTable(rides, name, u) {
  return table("Predicted and ridden", ["Rider", ["Predicted", "n"], ["Ridden", "n"], ["Difference", "n"], ["Stood", "n"], ["Mean power", "n"], ["To know", "t"]], rides.map((r) => {
    if (r.problem) return [`${r.rider}, ${r.file}`, "–", "", "", "", "", r.problem.detail ?? r.problem.title];
    return [name(r, rides), clock(r.predicted_s), clock(r.ridden_s), signed(r.difference.total_s), seconds(r.difference.stops_s), orNone(r.mean_power_w, watts), coveredWords(r.laid, u)];
  }));
}

const coveredWords = (laid, u) => (laid.covered_share > 0.995 ? "" : `from ${u.length(laid.start_m)} to ${u.length(laid.end_m)}, ${percent(laid.covered_share)} of the course`);

/** One ride in full. */
export function rideTold(ride, u, course) {
  return [
    el("p", { class: "told" }, ride.summary),
    el("div", { class: "row tops" }, partsTable(ride), el("div", {}, facts(ride, u), recordingOf(ride, u))),
    splitsTable(ride, u, course),
  ];
}

function partsTable(ride) {
  return table(`Where the difference of ${ride.rider} comes from; + for longer, − for less`, ["What", ["Seconds", "n"], ["Which is", "t"]], [
    ...parts.map(([name, words, meaning]) => [words, signed(ride.difference[name]), meaning]),
    [el("strong", {}, "Together"), el("strong", {}, signed(ride.difference.total_s)), `${clock(ride.ridden_s)} ridden, ${clock(ride.predicted_s)} predicted`],
  ]);
}

function facts(ride, u) {
  const { plan } = ride;
  return el("ul", {}, [
    ride.same_effort_s !== undefined && `With the power as it was recorded, ${clock(ride.same_effort_s)} would have been predicted; ${clock(ride.moving_s)} were ridden without standing.`,
    ride.w_balance_min_j !== undefined && (ride.w_balance_min_j < 0 ? `W′ was overdrawn by ${kilojoules(-ride.w_balance_min_j)} at ${u.length(ride.w_balance_min_at_m)}.`
      : `W′ was lowest at ${u.length(ride.w_balance_min_at_m)}, with ${kilojoules(ride.w_balance_min_j)}; ${kilojoules(ride.w_balance_end_j)} were left at the end.`),
    plan && (plan.problem ? `No best plan: ${plan.problem.detail}` : `The best plan within the same capability takes ${clock(plan.time_s)}, ${seconds(plan.gain_s)} ${plan.gain_s < 0 ? "more" : "less"} than the recorded power alone and without stops.`),
    ride.unknown_power_share > 0 && `For ${certainty(100 * ride.unknown_power_share)} of the time there is no power; what was given nearby stands in.`,
    ride.power_averaged_m !== undefined && `The recorded power was averaged over ${u.length(ride.power_averaged_m)}: as it is, it doesn't carry the rider up somewhere.`,
    ...(ride.sheltered ?? []).map((s) => `Sheltered from ${u.length(s.start_m)} to ${u.length(s.end_m)}: ${plusMinus(100 * s.drag_factor, s.drag_factor_se && 100 * s.drag_factor_se, (v) => number(v, 0), " %")} of the drag alone.`),
  ].filter(Boolean).map((words) => el("li", {}, words)));
}

/** How the recording lies on the course, and what was wrong with it. */
function recordingOf({ laid, recording, file }, u) {
  const by = laid.by === "distance" ? `by its distances, brought to the course's by ${number(laid.distance_scale, 3)}` : "by its positions";
  const off = laid.deviation_median_m === undefined ? "" : `; half of them lie within ${u.fine(laid.deviation_median_m)} of it, 95 % within ${u.fine(laid.deviation_p95_m)}, the farthest ${u.fine(laid.deviation_max_m)} off at ${u.length(laid.deviation_max_at_m)}`;
  return [
    el("p", {}, `${file} was laid on the course ${by}${off}. It covers ${percent(laid.covered_share)} of the course, in ${clock(recording.duration_s)}.`),
    recording.notes.length ? el("ul", {}, recording.notes.map((n) => el("li", {}, n.at_s === undefined ? "" : `At ${clock(n.at_s)} of it: `, n.detail))) : el("p", { class: "soft" }, "Nothing was wrong with it."),
  ];
}

function splitsTable(ride, u, course) {
  const power = ride.splits.some((s) => s.ridden_power_w !== undefined);
  return table(`Predicted and ridden place by place, ${ride.rider}: parts of the course and climbs; at a mark, since the start`,
    ["Place", [u.long, "n"], ["Predicted", "n"], ["Ridden", "n"], ["Difference", "n"], "Most of it", ...(power ? [["Power predicted", "n"], ["ridden", "n"]] : [])],
    ride.splits.map((s) => [
      placeName(s, course), s.end_m > s.start_m ? `${u.bare(s.start_m)} – ${u.bare(s.end_m)}` : u.bare(s.end_m),
      clock(s.predicted_s), clock(s.ridden_s), signed(s.difference.total_s), mostOf(s.difference),
      ...(power ? [orNone(s.predicted_power_w, watts), orNone(s.ridden_power_w, watts)] : []),
    ]));
}

/** The largest part of a difference, where it is worth a word. */
function mostOf(difference) {
  const [name, words] = parts.reduce((most, part) => (Math.abs(difference[part[0]]) > Math.abs(difference[most[0]]) ? part : most));
  return Math.abs(difference[name]) < 0.95 ? "" : `${words.toLowerCase()} ${signed(difference[name])}`;
}

/** How near the predictions came over the round, and whose numbers don't fit. */
export function roundOf(round, rides) {
  if (!round) return null;
  const line = (words, a) => [words, String(a.riders), orNone(a.bias_pct, (v) => `${signedPercent(v)}${a.bias_se_pct === undefined ? "" : ` ± ${certainty(a.bias_se_pct)}`}`),
    signedPercent(a.median_pct), orNone(a.spread_pct, certainty), orNone(a.within_pct, certainty)];
  const told = (d) => `${rides.find((r) => r.ride_id === d.ride_id)?.file ?? d.rider}: ${d.detail}`;
  return [
    el("h3", {}, "The round"),
    table("Times ridden against times computed, standing left out; + where riders took longer",
      ["Computed", ["Riders", "n"], ["Mean", "n"], ["Median", "n"], ["Spread", "n"], ["Half within", "n"]],
      [line("as predicted", round.predicted), line("with everybody's power known", round.power_known)]),
    round.doubts.length ? el("ul", {}, round.doubts.map((d) => el("li", {}, told(d)))) : null,
  ];
}

/** What is learnt of each rider on each set-up; take(learnt) takes it over, and says what became of it. */
export function learntOf(learnt, rides, take, u) {
  if (!learnt.length) return el("p", {}, "Nothing is learnt of drag and rolling resistance: that takes power in the recording.");
  return [el("h3", {}, "What is learnt"), learnt.map((l) => el("details", { open: learnt.length < 3 }, el("summary", {}, learntWords(l, rides)), l.problem ? null : learntTold(l, take, u)))];
}

function learntWords(l, rides) {
  const name = rides.some((r) => r.setup_index) ? `${l.rider} on ${l.setup}` : l.rider;
  return l.problem ? `${name}: ${l.problem.detail}` : `${name}: drag area ${plusMinus(l.cda_m2, l.cda_se_m2, area)} m²`;
}

function learntTold(l, take, u) {
  const sure = (told) => (told ? "told well enough" : "not told well enough to be taken over");
  const rows = [["Drag area", plusMinus(l.cda_m2, l.cda_se_m2, area, " m²"), sure(l.drag_determined)],
    ["Rolling resistance", plusMinus(l.crr, l.crr_se, rolling), l.crr_assumed ? "assumed: known better without these rides" : sure(l.rolling_determined)]];
  if (l.power_scale !== undefined) rows.push(["True power over recorded", plusMinus(l.power_scale, l.power_scale_se, area), "looked for"]);
  for (const w of l.winds ?? []) rows.push(["Wind", windWords(w, u), "looked for"]);
  return [
    table(`${l.rider}, ± one standard error`, ["What", ["Value", "n"], ["How far to trust it", "t"]], rows),
    l.notes.length ? el("ul", {}, l.notes.map((n) => el("li", {}, n.detail))) : null,
    l.advice.length ? [el("p", {}, "What would tell more:"), el("ol", {}, l.advice.map((a) => el("li", {}, `${a.detail} The drag area would be known to ± ${area(a.cda_se_m2)} m².`)))] : null,
    takeButton(l, take),
  ];
}

const windWords = (w, u) => (w.headwind_mps === undefined ? `${u.speed(w.wind_mps)} from ${number(w.wind_from_deg, 0)}°, ± ${u.speed(w.wind_se_mps)}` : `${u.speed(w.headwind_mps)} head on, ± ${u.speed(w.headwind_se_mps)}`);

/** The button that takes over what is known well enough, where something is. */
function takeButton(l, take) {
  const [drag, roll] = [l.drag_determined, l.rolling_determined && !l.crr_assumed];
  if (!drag && !roll) return el("p", { class: "soft" }, "Nothing of it is known well enough to be taken over: what stands above with the riders stays.");
  const words = [drag && "the drag area", roll && "the rolling resistance"].filter(Boolean).join(" and ");
  const said = el("p", { role: "status", class: "soft" });
  return [el("p", { class: "no-print" }, el("button", { type: "button", class: "take-over", onclick: () => fill(said, take(l)) }, `Take over ${words} of ${l.rider}`)), said];
}
