// What the runs of a race come to.

import { el, fill, table } from "./dom.js";
import { more } from "./racefields.js";
import { chance, clock, count, percent, rounded, seconds, wattsPerKilogram } from "./wording.js";

/** Everything that a race's answer tells, the odds first. */
export function showOdds(answer, u) {
  return [
    el("p", { class: "told" }, answer.recommendation),
    odds(answer),
    decisive(answer.decisive, u),
    atLines(answer, u),
    contests(answer),
    more("One typical run", el("ol", {}, answer.typical_run.events.map((e) => el("li", {}, `${clock(e.clock_s)}: ${e.words}`)))),
    duel(answer.duel, u),
  ];
}

const first = 12; // of a long field, those that aren't folded

const between = (c) => `${chance(c.value)} (${percent(c.low)} – ${percent(c.high)})`;
const mean = (m, decimals) => (m ? `${rounded(m.mean, decimals)}${m.standard_error === undefined ? "" : ` ± ${rounded(m.standard_error, decimals)}`}` : "");

/** The likeliest winners first; a long field is cut, and told by a fold. */
function odds(answer) {
  const riders = [...answer.riders].sort((a, b) => b.win.value - a.win.value || a.mean_place.mean - b.mean_place.mean);
  const teams = answer.teams.length > 0;
  const rows = riders.map((r) => [r.rider, ...(teams ? [r.team ?? ""] : []), between(r.win), between(r.podium), mean(r.mean_place, 1), r.time_s ? clock(r.time_s.mean) : "", clock(r.alone_s)]);
  const heads = ["Rider", ...(teams ? ["Team"] : []), ["Wins", "n"], ["First three", "n"], ["Mean place", "n"], ["Mean time", "n"], ["Time alone", "n"]];
  const caption = `Of ${count(answer.rules.runs)} runs; in brackets where 95 of 100 such shares lie`;
  return [
    cut(caption, heads, rows),
    teams ? table("By team", ["Team", ["Wins", "n"]], answer.teams.map((t) => [t.team, between(t.win)])) : null,
  ];
}

/** A table of riders whose last rows are folded. */
function cut(caption, heads, rows) {
  return [
    table(caption, heads, rows.slice(0, first)),
    rows.length > first ? more(`The other ${rows.length - first} riders`, table(caption, heads, rows.slice(first))) : null,
  ];
}

function decisive(split, u) {
  if (!split) return el("p", {}, "In no run is anybody lost to the front for good.");
  return el("p", {}, el("strong", {}, "What decides: "), `${split.name}, from ${u.length(split.start_m)} to ${u.length(split.end_m)}, ${u.length(split.to_finish_m)} to go. `,
    `The front goes from ${mean(split.before_count, 1)} to ${mean(split.after_count, 1)} riders; it is where most are lost in ${between(split.largest)} of the runs.`);
}

const endWords = { foot: "foot of ", top: "top of " };
const lineWords = (line) => `${endWords[line.end] ?? ""}${line.place.name}${line.place.lap ? `, lap ${line.place.lap}` : ""}`;

/** The front group along the race, and at a line of the reader's choice the gaps of all. */
function atLines(answer, u) {
  const at = (line) => (line.end === "top" ? line.place.end_m : line.place.start_m);
  const chosen = answer.key_line_index ?? answer.lines.length - 1;
  const shown = el("div", { "aria-live": "polite" });
  const select = el("select", { id: "odds-line", onchange: () => fill(shown, gaps(answer, answer.lines[Number(select.value)])) },
    answer.lines.map((line, i) => el("option", { value: String(i) }, lineWords(line))));
  select.value = String(chosen);
  fill(shown, gaps(answer, answer.lines[chosen]));
  return [
    more("The front group from line to line", table("Riders in it, and how often the winner is one of them", ["Line", ["At", "n"], ["Front group", "n"], ["Groups", "n"], ["With the winner", "n"]],
      answer.lines.map((line) => [lineWords(line), u.length(at(line)), mean(line.front_count, 1), mean(line.groups_count, 1), between(line.winner_in_front)]))),
    el("p", { class: "no-print" }, el("label", { for: "odds-line" }, "Gaps at"), " ", select),
    shown,
  ];
}

function gaps(answer, line) {
  const climb = line.end === "top" ? answer.climbs.find((c) => c.place.id === line.place.id && c.place.start_m === line.place.start_m) : null;
  const riders = [...line.riders].sort((a, b) => (a.gap_s?.mean ?? Infinity) - (b.gap_s?.mean ?? Infinity));
  const heads = ["Rider", ["In the front group", "n"], ["Behind the first", "n"], ["Most often", "n"], ...(climb ? [["Gained on it", "n"]] : [])];
  return cut(`At the ${lineWords(line)}: mean gaps, and what eight of ten runs lie between`.replace("At the the ", "At the "), heads, riders.map((r) => [
    r.rider, between(r.front), r.gap_s ? seconds(r.gap_s.mean) : "never there", r.gap_s ? `${seconds(r.gap_s.low)} – ${seconds(r.gap_s.high)}` : "",
    ...(climb ? [gained(climb.riders.find((c) => c.rider_index === r.rider_index)?.gained_s)] : []),
  ]));
}

const gained = (m) => (m ? `${m.mean < 0 ? "−" : "+"}${seconds(m.mean)}` : "");

function contests(answer) {
  return answer.contests.map((c) => more(`Points: ${c.name}`, [["riders", "Rider"], ["teams", "Team"]].filter(([key]) => c[key].length).map(([key, word]) =>
    table(`${c.name}: expected points`, [word, ["Points", "n"], ["Wins it", "n"]], c[key].slice(0, first).map((p) => [p.name, mean(p.points, 1), between(p.win)])))));
}

/** A heavier rider against a lighter one, each alone. */
function duel(d, u) {
  if (!d) return null;
  const slopes = { up: "uphill", level: "on the level", down: "downhill" };
  const gain = (s) => `${s < 0 ? "−" : "+"}${seconds(s)}`;
  return more(`Heavy against light: ${d.heavier.rider} and ${d.lighter.rider}`,
    el("p", {}, d.words),
    table(`What ${d.lighter.rider} (${u.mass(d.lighter.mass_kg)}, ${wattsPerKilogram(d.lighter.w_per_kg)}) gains on ${d.heavier.rider} (${u.mass(d.heavier.mass_kg)}, ${wattsPerKilogram(d.heavier.w_per_kg)})`,
      ["Ground", ["Length", "n"], ["Gains", "n"]], d.ground.map((g) => [slopes[g.slope], u.length(g.length_m), gain(g.gain_s)])),
    table("Climb by climb", ["Climb", ["At the foot", "n"], ["At the top", "n"], ["Gains", "n"]],
      d.stretches.filter((s) => s.of === "climb").map((s) => [`${s.name || s.id}${s.lap ? `, lap ${s.lap}` : ""}`, gain(-s.start_gap_s), gain(-s.end_gap_s), gain(s.gain_s)])));
}
