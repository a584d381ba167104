// The views: all times, a rider's season, a round.

import { el } from "/page/dom.js";
import { clock, number, percent, rounded, seconds, unitsOf } from "/page/wording.js";
import { fragmentOf, turnedTo } from "./fragment.js";
import { inOrder, orderedTable } from "./tables.js";

const shapes = { lapped: "laps", out_and_back: "out and back", lollipop: "out, round and back", circuit: "a circuit", point_to_point: "from one place to another" };

/** What a view holds, and the rounds and riders that it shows, in their order. */
export function viewOf(answers, looked, onorder) {
  const show = { times, rider, round }[looked.view];
  return show(answers, looked, unitsOf(looked.units), onorder);
}

/** Adds to each round what a line of a table needs. */
function linesOf(answers, looked) {
  const words = looked.find.trim().toLowerCase();
  const names = answers.rounds.map((r) => r.name);
  return answers.rounds
    .filter((r) => `${r.name} ${r.round_id}`.toLowerCase().includes(words))
    .map((r) => ({
      ...r,
      twice: names.indexOf(r.name) !== names.lastIndexOf(r.name),
      fault: r.problem ? [el("strong", {}, r.problem.title), ". ", r.problem.detail] : undefined,
      wait: r.problem || r.answered_at ? undefined : "not answered yet",
      of: new Map((r.times ?? []).filter((t) => t.counts).map((t) => [t.rider, t])),
    }));
}

const shownRiders = (answers, looked) => answers.riders.filter((r) => looked.shown === null || looked.shown.includes(r.rider));

const linkTo = (looked, what, text) => el("a", { href: fragmentOf(turnedTo(looked, what)), "data-key": `go:${what.view}:${what.rider ?? what.round}` }, text);

/** A round's name, which leads to it. */
const roundName = (looked, u) => (r) => [
  linkTo(looked, { view: "round", round: r.round_id }, r.name),
  r.before ? mark("before", "its answer is of an earlier asking") : null,
  r.left_out ? mark("not in totals", r.left_out) : null,
  r.twice ? el("span", { class: "file" }, r.round_id) : null,
  r.distance_m === undefined ? null : el("span", { class: "file if-narrow" }, u.length(r.distance_m), r.ascent_m === undefined ? null : `, ${u.height(r.ascent_m)} up`),
];

const mark = (text, title) => el("span", { class: "mark", title }, text);

const roundColumn = (looked, u) => ({ key: "round", head: "Round", value: (r) => r.name, cell: roundName(looked, u) });
const distanceColumn = (u) => ({ key: "distance", head: `Distance, ${u.long}`, kind: "n if-wide", value: (r) => r.distance_m, cell: (r) => u.bare(r.distance_m) });
const ascentColumn = (u) => ({
  key: "ascent", head: `Ascent, ${u.short}`, kind: "n if-wide", value: (r) => r.ascent_m,
  cell: (r) => (r.ascent_m === undefined ? "–" : rounded(r.ascent_m / u.shortM, 0)),
});

const isFirst = (t) => t?.place === 1;
const first = (t) => (isFirst(t) ? mark("1st") : null);

/** All rounds and the times of all riders. */
function times(answers, looked, u, onorder) {
  const riders = shownRiders(answers, looked);
  const columns = [
    roundColumn(looked, u), distanceColumn(u), ascentColumn(u),
    ...riders.map(({ rider }) => ({
      key: `rider:${rider}`, name: rider, link: linkTo(looked, { view: "rider", rider }, rider), kind: "n",
      value: (r) => r.of.get(rider)?.time_s, mark: (r) => (isFirst(r.of.get(rider)) ? "fastest" : null), cell: (r) => timeCell(r, rider),
    })),
  ];
  const lines = inOrder(linesOf(answers, looked), columns, looked);
  return {
    title: "Times", rounds: lines, riders,
    nodes: [
      lines.length ? orderedTable({
        caption: `Predicted times of ${riders.length === 1 ? "one rider" : `${riders.length} riders`} in ${lines.length === 1 ? "one round" : `${lines.length} rounds`}; 1st is the fastest of the whole roster`,
        columns, rows: lines, order: looked, onorder, foot: totals(riders),
      }) : el("p", {}, "No round has that in its name."),
    ],
  };
}

function timeCell(round, rider) {
  const t = round.of.get(rider);
  if (t) return [first(t), clock(t.time_s)];
  const why = (round.times ?? []).find((x) => x.rider === rider)?.why_not;
  return why ? ["– ", el("span", { class: "out-of-sight" }, why), mark("why", why)] : "–";
}

/** The riders' totals, below their times. */
function totals(riders) {
  const n = riders.find((r) => r.total_count)?.total_count;
  if (!n) return null;
  return el("tr", {},
    el("th", { scope: "row" }, `Total of ${n === 1 ? "the one round" : `the ${n} rounds`} that all finish`),
    el("td", { class: "if-wide" }), el("td", { class: "if-wide" }),
    riders.map((r) => el("td", { class: r.behind_s === 0 ? "n fastest" : "n" }, r.total_time_s === undefined ? "–" : [
      r.behind_s === 0 ? mark("1st") : null, clock(r.total_time_s), r.behind_s ? el("span", { class: "soft" }, `+${seconds(r.behind_s)}`) : null,
    ])));
}

/** A rider's season. */
function rider(answers, looked, u, onorder) {
  const one = answers.riders.find((r) => r.rider === looked.rider);
  if (!one) return { title: "Rider", rounds: [], riders: [], nodes: [el("p", {}, looked.rider ? `There is no rider ${looked.rider} in the roster.` : "Choose a rider above.")] };
  const of = (r) => r.of.get(one.rider);
  const columns = [
    roundColumn(looked, u), distanceColumn(u), ascentColumn(u),
    { key: "time", head: "Time", kind: "n", value: (r) => of(r)?.time_s, mark: (r) => (isFirst(of(r)) ? "fastest" : null), cell: (r) => (of(r) ? [first(of(r)), clock(of(r).time_s)] : "–") },
    bandColumn(of), speedColumn(of, u),
    { key: "place", head: "Place", kind: "n", value: (r) => of(r)?.place, cell: (r) => (of(r) ? `${of(r).place} of ${r.of.size}` : "–") },
    suitsColumn(of),
    ...setupColumn(answers, of),
    ...whyColumn(answers, (r) => (r.times ?? []).find((t) => t.rider === one.rider && !of(r))?.why_not),
  ];
  const lines = inOrder(linesOf(answers, looked), columns, looked);
  return {
    title: one.rider, rounds: lines, riders: [one],
    nodes: [
      facts(riderFacts(one, u)),
      lines.length ? orderedTable({ caption: `The season of ${one.rider}. Bands are of what is in doubt of the inputs; a round suits by how much better than in the rider's own mean it goes there`, columns, rows: lines, order: looked, onorder }) : el("p", {}, "No round has that in its name."),
      suited(answers, looked, "Rounds that suit best", one.best_suited),
      suited(answers, looked, "Rounds that suit least", one.least_suited),
    ],
  };
}

function riderFacts(one, u) {
  return [
    one.total_time_s === undefined ? null : [`Total of ${one.total_count === 1 ? "one round" : `${one.total_count} rounds`}`, clock(one.total_time_s)],
    one.behind_s === undefined ? null : ["Behind the least total", one.behind_s === 0 ? "nothing: it is the least" : `+${seconds(one.behind_s)}`],
    one.mass_kg === undefined ? null : ["Mass", u.mass(one.mass_kg)],
    one.power_w === undefined ? null : ["Power", `${rounded(one.power_w, 0)} W`],
  ];
}

/** Says which rounds suit, and what that comes of. */
function suited(answers, looked, title, list) {
  if (!list?.length) return null;
  return [
    el("h3", {}, title),
    el("ul", { class: "suited" }, list.map((s) => {
      const name = answers.rounds.find((r) => r.round_id === s.round_id)?.name ?? s.round_id;
      return el("li", {}, linkTo(looked, { view: "round", round: s.round_id }, name), s.round_id === name ? ": " : ` (${s.round_id}): `,
        el("strong", {}, `${signed(s.suitability_pct)} %`), " against the rider's own mean. ",
        s.why ?? `Of power over mass come ${signed(s.power_to_mass_pct)} %, of power over drag area ${signed(s.power_to_drag_area_pct)} %, of neither ${signed(s.rest_pct)} %.`);
    })),
  ];
}

const bandColumn = (of) => ({ key: "band", head: "Band", kind: "n", value: (r) => of(r)?.time_low_s, cell: (r) => band(of(r)) });
const speedColumn = (of, u) => ({ key: "speed", head: `Speed, ${u.speedUnit}`, kind: "n", value: (r) => of(r)?.mean_speed_mps, cell: (r) => (of(r)?.mean_speed_mps ? rounded(of(r).mean_speed_mps / u.mpsPerSpeed, 1) : "–") });
const suitsColumn = (of) => ({ key: "suits", head: "Suits by", kind: "n", value: (r) => of(r)?.suitability_pct, cell: (r) => (of(r)?.suitability_pct === undefined ? "–" : `${signed(of(r).suitability_pct)} %`) });

/** A column of set-ups, where there are several. */
function setupColumn(answers, of) {
  const setups = new Set(answers.rounds.flatMap((r) => (r.times ?? []).map((t) => t.setup)));
  return setups.size < 2 ? [] : [{ key: "setup", head: "Set-up", value: (r) => of(r)?.setup, cell: (r) => of(r)?.setup ?? "–" }];
}

/** A column of reasons, where somebody has no time. */
function whyColumn(answers, why) {
  const any = answers.rounds.some((r) => (r.times ?? []).some((t) => t.why_not));
  return any ? [{ key: "why", head: "Why there is no time", cell: (r) => why(r) ?? "" }] : [];
}

function band(t) {
  if (t?.time_low_s === undefined) return "–";
  return t.time_high_s === undefined ? `from ${clock(t.time_low_s)}` : `${clock(t.time_low_s)} – ${clock(t.time_high_s)}`;
}

function signed(pct) {
  const text = rounded(Math.abs(pct), 1);
  return text === "0.0" ? text : `${pct < 0 ? "−" : "+"}${text}`;
}

function facts(pairs) {
  const given = pairs.filter(Boolean);
  return given.length ? el("dl", { class: "facts" }, given.map(([term, value]) => el("div", {}, el("dt", {}, term), el("dd", {}, value)))) : null;
}

/** A round: what it is like, and who is how fast there. */
function round(answers, looked, u, onorder) {
  const one = linesOf(answers, { ...looked, find: "" }).find((r) => r.round_id === looked.round);
  if (!one) return { title: "Round", rounds: [], riders: [], nodes: [el("p", {}, looked.round ? `There is no round ${looked.round} in the folder.` : "Choose a round above.")] };
  const nodes = [el("p", { class: "soft" }, one.name === one.round_id ? null : one.round_id, one.before ? mark("before", "its answer is of an earlier asking") : null)];
  if (one.problem) nodes.push(el("div", { class: "problem" }, el("h3", {}, one.problem.title), one.problem.detail ? el("p", {}, one.problem.detail) : null));
  else if (one.wait) nodes.push(el("p", {}, "It is not answered yet."));
  else nodes.push(roundFacts(one, u, answers.rounds.length), el("p", {}, el("strong", {}, "Where it is decided: "), one.decisive), picture(one, u), warnings(one, u));
  const shown = shownRiders(answers, looked).map((r) => r.rider);
  const least = Math.min(...[...one.of.values()].map((t) => t.time_s));
  const self = (t) => (t.counts ? t : undefined);
  const columns = [
    { key: "rider", head: "Rider", value: (t) => t.rider, cell: (t) => linkTo(looked, { view: "rider", rider: t.rider }, t.rider) },
    { key: "place", head: "Place", kind: "n", value: (t) => t.place, cell: (t) => t.place ?? "–" },
    { key: "time", head: "Time", kind: "n", value: (t) => t.time_s, mark: (t) => (isFirst(t) ? "fastest" : null), cell: (t) => (t.time_s === undefined ? "–" : [first(t), clock(t.time_s)]) },
    { key: "behind", head: "Behind", kind: "n", value: (t) => self(t)?.time_s, cell: (t) => (self(t) && t.time_s > least ? `+${seconds(t.time_s - least)}` : "–") },
    bandColumn((t) => t), speedColumn((t) => t, u), suitsColumn((t) => t), ...setupColumn(answers, (t) => t), ...whyColumn(answers, (t) => t.why_not),
  ];
  const byPlace = (one.times ?? []).filter((t) => shown.includes(t.rider)).map((t, i) => [t, i])
    .sort(([a, i], [b, j]) => (a.place ?? Infinity) - (b.place ?? Infinity) || i - j).map(([t]) => t);
  const rows = inOrder(byPlace, columns, looked);
  if (rows.length) nodes.push(orderedTable({ caption: `Who is how fast in ${one.name}`, columns, rows, order: looked, onorder }));
  if (one.left_out) nodes.push(el("p", {}, `The round counts neither in totals nor in what suits whom: ${one.left_out}`));
  const order = [...new Set(rows.map((t) => t.rider))];
  return { title: one.name, rounds: [one], riders: order.map((name) => answers.riders.find((r) => r.rider === name)).filter(Boolean), nodes };
}

function roundFacts(r, u, n) {
  const rank = (place, most) => (!place || n < 2 ? "" : `, ${place === 1 ? "the" : ordinal(place)} ${most} of ${n}`);
  const { ranks = {} } = r;
  return facts([
    [`Distance${rank(ranks.distance, "longest")}`, u.length(r.distance_m)],
    r.ascent_m === undefined ? null : [`Ascent${rank(ranks.ascent, "most")}`, u.height(r.ascent_m)],
    [r.laps_count > 1 ? `Course, ${r.laps_count} laps` : "Course", shapes[r.shape] ?? r.shape],
    [r.climbs_count === 1 ? "Climb" : "Climbs", String(r.climbs_count)],
    r.h2_index === undefined ? null : [`H² index of the climbs${rank(ranks.h2, "hardest")}`, number(r.h2_index, 1)],
    r.share_before_last_climb === undefined ? null : ["Of the climbing before the last climb", percent(r.share_before_last_climb)],
    r.rolling_m_per_km === undefined ? null : [`Ascent outside climbs${rank(ranks.rolling, "most rolling")}`, `${number(r.rolling_m_per_km, 1)} m/km`],
  ]);
}

function ordinal(n) {
  const ending = n % 100 > 10 && n % 100 < 14 ? "th" : ["th", "st", "nd", "rd"][n % 10] ?? "th";
  return `${n}${ending}`;
}

/** The profile, as the service draws it. */
function picture(r, u) {
  const gone = el("p", { class: "soft", hidden: true }, "The profile can't be had now.");
  const from = (query) => `/pictures/${r.course_id}?${query}${u.imperial ? "&units=imperial" : ""}`;
  const image = el("img", {
    src: from("wide=1"), alt: `Profile of ${r.name}: ${u.length(r.distance_m)}${r.ascent_m === undefined ? "" : `, ${u.height(r.ascent_m)} of ascent`}`,
    onerror: () => { drawn.hidden = true; gone.hidden = false; },
  });
  const drawn = el("picture", {},
    el("source", { media: "(max-width: 40rem) and (prefers-color-scheme: dark)", srcset: from("theme=dark") }),
    el("source", { media: "(max-width: 40rem)", srcset: from("theme=light") }),
    el("source", { media: "(prefers-color-scheme: dark)", srcset: from("theme=dark&wide=1") }),
    image);
  return el("figure", { class: "course" }, drawn, gone);
}

function warnings(r, u) {
  if (!r.warnings?.length) return null;
  return [
    el("h3", {}, "Odd in the file"),
    el("ul", {}, r.warnings.map((w) => el("li", {}, w.at_m === undefined ? null : `At ${u.length(w.at_m)}: `, w.detail, "."))),
  ];
}
