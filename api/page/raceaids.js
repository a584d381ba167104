// Where a short-lived aid gains most.

import { clean } from "./course.js";
import { el, fill, table } from "./dom.js";
import { follow, group, more, row, selectField } from "./racefields.js";
import { everyKind, placeChoices } from "./raceplaces.js";
import { rideName } from "./rides.js";
import { clock, seconds, watts } from "./wording.js";

const mostAids = 6;

const aidFields = [
  ["name", "Name", "text"],
  ["duration_s", "Lasts", "s", 1, 600, { required: true }],
  ["drag_factor", "Drag", "share", 0.1, 3, { hint: "of what it is without" }],
  ["mass_change_kg", "Mass, more or less", "mass", -100, 100, { hint: "below 0 for less" }],
  ["wake_factor", "Shelter left behind", "share", 0, 1, { hint: "100 all, 0 none" }],
];

export function aidQuestion(store) {
  const list = el("div");
  const aids = [];
  const add = el("button", { type: "button", onclick: () => grow().fields.fields[0].input.focus() }, "Another aid");
  const at = selectField("aid-at", "What it gains, told at");
  const gap = group(store, "aids", [["follower_gap_m", "Who follows leaves", "m", 0, 3, { hint: "between the wheels; left empty: 0.3 m" }]]);
  follow(store, ["course", "units"], () => store.get("course") && at.set(placeChoices(store, everyKind), '{"finish":true}'));
  let made = 0;

  function grow(first) {
    const aid = oneAid(store, `aid-${(made += 1)}`, first, () => {
      aids.splice(aids.indexOf(aid), 1);
      settle();
      add.focus();
    });
    aids.push(aid);
    settle();
    return aid;
  }
  function settle() {
    aids.forEach((aid, i) => aid.count(i + 1, aids.length));
    add.hidden = aids.length >= mostAids;
    fill(list, aids.map((a) => a.node));
  }
  grow({ duration_s: 15, drag_factor: 0.75 });

  return {
    path: "aids", title: "Where to use an aid?", button: "Find the place",
    intro: "An aid is a change for some seconds: less drag, less mass, or a wake that shelters nobody; in hand at the start, or earned where a mark is passed.",
    needs: ["riders", "setups", "conditions", "effort"], needsRiders: () => true,
    fields: [list, el("p", {}, add), more("More", row(at), gap.nodes)],
    groups: () => [...aids.map((a) => a.fields), gap],
    find: ([first, i, name]) => (first === "aids" ? aids[i]?.fields.field(name) : gap.field(first)),
    lacks: () => null,
    read: () => ({ aids: aids.map((a) => a.get()), at: JSON.parse(at.get()), ...gap.read() }),
    rides: (answer) => answer.rides,
    show: (answer, u) => [el("p", { class: "told" }, answer.recommendation), answer.rides.map((ride) => oneRide(answer, ride, u))],
  };
}

/** The fields of one aid. */
function oneAid(store, id, first, remove) {
  const fields = group(store, id, aidFields, "", first);
  const from = selectField(`${id}-from`, "In hand");
  follow(store, ["course"], () => from.set([["", "at the start, once"], ...(store.get("course")?.marks ?? []).map((m) => [m.mark_id, `from each pass of ${m.name} on`])]));
  const legend = el("legend");
  const drop = el("button", { type: "button", onclick: remove }, "Take it out");
  return {
    fields, node: el("fieldset", {}, legend, fields.nodes, row(from), drop),
    count(i, all) {
      legend.textContent = `Aid ${i}`;
      drop.hidden = all < 2;
    },
    get: () => clean({ ...fields.read(), available_from: from.get() && [from.get()] }),
  };
}

/** What one rider on one set-up is told. */
function oneRide(answer, ride, u) {
  const several = answer.rides.length > 1;
  const name = rideName(ride, answer.rides);
  const parts = ride.problem ? el("p", {}, ride.problem.detail) : [usesTable(name, ride, u), linesTable(name, ride, u), jointTable(name, ride, u)];
  return several ? el("details", { open: ride.rider_index === 0 && ride.setup_index === 0 }, el("summary", {}, name), parts) : parts;
}

const placeWords = (at, where, u) => (where ? `${u.length(at)}, ${where}` : u.length(at));

function usesTable(name, ride, u) {
  const rows = ride.aids.flatMap((a) => {
    if (a.problem) return [[a.aid, a.problem.detail, "", "", ""]];
    if (!a.best) return [[a.aid, "gains nothing anywhere", "", "", ""]];
    return [a.best, ...a.runners_up.slice(0, 4)].map((use, i) => [
      a.aid, placeWords(use.at_m, use.where, u), clock(use.clock_s), `${use.gain_s < 0 ? "−" : ""}${seconds(use.gain_s)}`,
      use.follower ? `${watts(use.follower.added_w)} more to follow, or ${u.fine(use.follower.opens_m)} lost` : i === 0 ? "best" : `${seconds(use.behind_s)} less`]);
  });
  return table(`${name}: the best places, best first`, ["Aid", "Where", ["When", "n"], ["Gains", "n"], "Against the best"], rows);
}

function linesTable(name, ride, u) {
  const rows = ride.aids.flatMap((a) => (a.lines ?? []).map((l) => [a.aid, l.line.name, u.length(l.before_m), u.fine(l.ahead_m)]));
  return rows.length ? more("Kept for a line", table(`${name}: used so that it just lasts to the line`, ["Aid", "Line", ["Use before it", "n"], ["Ahead there", "n"]], rows)) : null;
}

function jointTable(name, ride, u) {
  if (!ride.joint?.uses.length) return null;
  return more(`All that can be had together: ${seconds(ride.joint.gain_s)}`, table(`${name}: as often as they are earned, one at a time`, ["Aid", "Where", ["Alone", "n"]],
    ride.joint.uses.map((use) => [use.aid, placeWords(use.at_m, use.where, u), seconds(use.alone_s)])));
}
