// Who rides, on what, in which conditions and how hard. What is right of it stands in the
// store, as requests take it.

import { conditionFields, effortFields, effortNeeds, riderFields, setupFields } from "./asked.js";
import { el, fill } from "./dom.js";
import { goToField, makeGroup } from "./fields.js";
import { fitForm } from "./fit.js";
import { forget, keep, recall } from "./remember.js";
import { makeRows } from "./rows.js";
import { kilograms, unitsOf, watts } from "./wording.js";

/** Riders to try with: invented, one light and one heavy. */
const invented = {
  riders: [
    { name: "Light", mass_kg: 60, power_w: 225, critical_power_w: 250, w_prime_j: 16000 },
    { name: "Heavy", mass_kg: 82, power_w: 290, critical_power_w: 320, w_prime_j: 22000 },
  ],
  setups: [],
  effort: { kind: "own_power" },
};

/**
 * Fills the section. Returned are check(), which shows people the first thing that isn't
 * right, point(problem, go), which says at the fields what the service found wrong, and goes to
 * the first of them, and take(i, rider, k, setup), which adds what was learnt to a rider and a set-up.
 */
export function mountRiders(section, store) {
  let writing = true; // what is written by the page isn't kept as if typed
  const riders = makeRows({
    word: "rider", specs: riderFields, most: 20, store, changed, below: (row, prefix) => fitForm(prefix, store, (fitted) => {
      row.group.write({ ...row.group.read(), ...fitted });
      riders.tell();
      changed();
      goToField(row.group.field("critical_power_w"));
    }),
    tell: (v, u) => [v.mass_kg && u.mass(v.mass_kg), v.critical_power_w && `critical power ${watts(v.critical_power_w)}`].filter(Boolean),
  });
  const setups = makeRows({
    word: "set-up", specs: setupFields, most: 20, store, changed,
    tell: (v, u) => [v.mass_kg && (u.imperial ? u.mass(v.mass_kg) : kilograms(v.mass_kg))].filter(Boolean),
  });
  const conditions = makeGroup("conditions", conditionFields, changed, "More about the conditions");
  const effort = makeGroup("effort", effortFields, changed);

  fill(section,
    el("h2", { id: "riders-title" }, "Riders"),
    el("p", { class: "soft" }, "Two invented riders are here to try with: write yours over them. What you leave empty gets a typical value, which is told with its source beside the times."),
    riders.node, el("p", {}, riders.add),
    el("h3", {}, "Set-ups"),
    el("p", { class: "soft" }, "Without one, all ride an all-round road bicycle. Every rider is put on every set-up."),
    setups.node, el("p", {}, setups.add),
    el("form", { onsubmit: (event) => event.preventDefault() },
      el("fieldset", {}, el("legend", {}, "Conditions"), conditions.nodes),
      el("fieldset", {}, el("legend", {}, "Effort"), effort.nodes)),
    el("p", { class: "no-print" }, "Riders and set-ups are kept in this browser, and nowhere else. ",
      el("button", { type: "button", id: "forget", onclick: forgetAll }, "Forget them")));

  /** Offers the fields that go with what is chosen. */
  function offer() {
    const { indoor, wind } = conditions.read();
    const offered = { wind: !indoor, wind_mps: wind === 1, wind_from_deg: wind === 1, wind_roughness_m: wind === 1, headwind_mps: wind === 2 };
    for (const name of ["bends", "braking", "lateral_mps2", "braking_mps2", "coast_above_mps"]) offered[name] = true;
    for (const [name, is] of Object.entries(offered)) conditions.field(name).offer(is && !indoor);
    const { kind } = effort.read();
    for (const [of, name] of Object.entries(effortNeeds)) effort.field(name).offer(of === kind);
  }

  /** Puts what is right into the store, each key for itself. */
  function changed() {
    if (writing) return;
    offer();
    publish();
    keep({ riders: riders.rows.map((r) => r.group.read()), setups: setups.rows.map((r) => r.group.read()), effort: effort.read() });
  }

  function publish() {
    const { wind, ...air } = conditions.read();
    const now = {};
    const given = riders.read();
    const owned = setups.read();
    if (given?.length) now.riders = given;
    if (owned) now.setups = owned.length ? owned : null;
    if (conditions.valid()) now.conditions = air;
    if (effort.valid()) now.effort = effort.read();
    for (const name of Object.keys(now)) if (JSON.stringify(now[name]) === JSON.stringify(store.get(name))) delete now[name];
    store.set(now);
  }

  function write(typed) {
    writing = true;
    riders.write(typed.riders.length ? typed.riders : invented.riders);
    setups.write(typed.setups);
    effort.write(effort.field("kind").takes(typed.effort?.kind) ? typed.effort : invented.effort);
    writing = false;
    offer();
    publish();
  }

  function forgetAll() {
    forget();
    write(invented);
    riders.rows[0].title.focus();
  }

  store.on(["units"], ({ units }) => [conditions, effort].forEach((g) => g.units(unitsOf(units))));
  store.on(["course"], ({ course }) => (section.hidden = !course));
  for (const g of [conditions, effort]) g.units(unitsOf(store.get("units")));
  write(recall() ?? invented);

  /** The field that a pointer into a request names. */
  function at(pointer) {
    const [, list, a, b] = pointer.match(/^#\/(\w+)\/(\w+)(?:\/(\w+))?/) ?? [];
    if (list === "riders" || list === "setups") return (list === "riders" ? riders : setups).rows[Number(a)]?.group.field(b);
    return { conditions, effort, given_effort: effort }[list]?.field(a);
  }

  /** Adds values to the form at an index; below 0 to a new one. Nothing is added without any. */
  function add(list, i, values) {
    const row = list.rows[i] ?? list.grow();
    row.group.write({ ...row.group.read(), ...values });
    list.tell();
  }

  return {
    take(i, rider, k, setup) {
      if (Object.keys(rider).length) add(riders, i, rider);
      if (setup.crr ?? setup.cda_m2) add(setups, k, setup);
      changed();
    },
    check: () => {
      if (!riders.rows.length) riders.add.focus();
      return riders.rows.length > 0 && riders.complain() && setups.complain() && conditions.complain() && effort.complain();
    },
    point(problem, go = true) {
      const faults = (problem.errors ?? []).map((e) => [e.pointer && at(e.pointer), e.detail]).filter(([field]) => field);
      for (const [field, detail] of faults) field.fault(detail);
      if (go && faults.length) goToField(faults[0][0]);
    },
  };
}
