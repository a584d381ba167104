// Where a short-lived aid gains most.

import { clean } from "./course.js";
import { el, fill, table } from "./dom.js";
import { follow, more, numberField, row, selectField, textField } from "./racefields.js";
import { everyKind, placeChoices } from "./raceplaces.js";
import { clock, seconds, watts } from "./wording.js";

const mostAids = 6;

export function aidQuestion(store) {
  const list = el("div");
  const aids = [];
  const add = el("button", { type: "button", onclick: () => addAid().focus() }, "Another aid");
  const at = selectField({ id: "aid-at", words: "What it gains, told at", pointer: "#/at" });
  const gap = numberField(store, { id: "aid-gap", words: "Who follows leaves", kind: "m", min: 0, max: 3, pointer: "#/follower_gap_m", hint: "between the wheels; left empty: 0.3 m" });
  follow(store, ["course", "units"], () => store.get("course") && at.set(placeChoices(store, everyKind), '{"finish":true}'));

  function addAid(first = {}) {
    const aid = aidFields(store, aids.length, first, remove);
    aids.push(aid);
    update();
    return aid.focus;
  }
  function remove(aid) {
    aids.splice(aids.indexOf(aid), 1);
    update();
    add.focus();
  }
  function update() {
    aids.forEach((aid, i) => aid.number(i, aids.length > 1));
    add.hidden = aids.length >= mostAids;
    fill(list, aids.map((a) => a.node));
  }
  addAid({ drag: 0.75, duration: 15 });

  return {
    path: "aids", title: "Where to use an aid?", button: "Find the place",
    needs: ["riders", "setups", "conditions", "surfaces", "effort"],
    intro: "An aid is a change for some seconds: less drag, less mass, or a wake that shelters nobody; in hand at the start, or earned where a mark is passed.",
    fields: [list, el("p", {}, add), more("More", row(at, gap))],
    lacks: () => (store.get("riders")?.length && store.get("effort") ? null : "This needs a rider and how hard the riders ride."),
    read: () => clean({ aids: aids.map((a) => a.get()), at: JSON.parse(at.get()), follower_gap_m: gap.get() }),
    show: (answer, u) => [el("p", { class: "told" }, answer.recommendation), answer.rides.map((ride) => oneRide(answer, ride, u))],
  };
}

let made = 0; // so that each aid's fields have names of their own

/** The fields of one aid. */
function aidFields(store, index, first, remove) {
  const id = `aid-${made++}`;
  const fields = {
    name: textField({ id: `${id}-name`, words: "Name", pointer: `#/aids/${index}/name` }),
    duration_s: numberField(store, { id: `${id}-lasts`, words: "Lasts", kind: "s", min: 1, max: 600, value: first.duration, required: true }),
    drag_factor: numberField(store, { id: `${id}-drag`, words: "Drag", kind: "percent", min: 0.1, max: 3, value: first.drag, hint: "of what it is without" }),
    mass_change_kg: numberField(store, { id: `${id}-mass`, words: "Mass, more or less", kind: "mass", min: -100, max: 100, hint: "below 0 for less" }),
    wake_factor: numberField(store, { id: `${id}-wake`, words: "Shelter left behind", kind: "percent", min: 0, max: 1, hint: "100 all, 0 none" }),
  };
  const from = selectField({ id: `${id}-from`, words: "In hand", hint: "one earned aid is held at a time" });
  follow(store, ["course"], () => {
    const marks = store.get("course")?.marks ?? [];
    from.set([["", "at the start, once"], ...marks.map((m) => [m.mark_id, `at each pass of ${m.name}`])]);
  });
  const legend = el("legend");
  const drop = el("button", { type: "button", onclick: () => remove(self) }, "Take it out");
  const self = {
    node: el("fieldset", {}, legend, row(fields.name, fields.duration_s, fields.drag_factor, fields.mass_change_kg), more("More about it", row(fields.wake_factor, from)), drop),
    focus: { focus: () => fields.name.input.focus() },
    number(i, several) {
      legend.textContent = `Aid ${i + 1}`;
      drop.hidden = !several;
      for (const [name, field] of Object.entries(fields)) field.input.dataset.pointer = `#/aids/${i}/${name}`;
      from.input.dataset.pointer = `#/aids/${i}/available_from`;
    },
    get: () => clean({ ...Object.fromEntries(Object.entries(fields).map(([name, field]) => [name, field.get()])), available_from: from.get() ? [from.get()] : undefined }),
  };
  return self;
}

/** What one rider on one set-up is told. */
function oneRide(answer, ride, u) {
  const several = answer.rides.length > 1;
  const name = answer.rides.some((r) => r.setup_index > 0) ? `${ride.rider} on ${ride.setup}` : ride.rider;
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
