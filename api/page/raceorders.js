// What each rider is told to do, for which team and on which set-up.

import { clean } from "./course.js";
import { el, fill } from "./dom.js";
import { follow, group, row, selectField } from "./racefields.js";
import { everyKind, placeChoices } from "./raceplaces.js";

const orders = [
  ["", "as it comes"], ["share_work", "shares the work"], ["sit_in", "sits in"], ["attack", "attacks at"], ["save", "saves until"],
  ["sprint", "sprints for"], ["lead_out", "leads out to"],
];
const placed = ["attack", "save", "sprint", "lead_out"];

/** A row for each of the riders. apply adds to riders what their rows say. */
export function orderRows(store) {
  const list = el("div");
  const rows = [];
  follow(store, ["riders"], () => {
    const riders = store.get("riders") ?? [];
    while (rows.length < riders.length) rows.push(riderRow(store, rows.length));
    riders.forEach((r, i) => rows[i].name(nameOf(r, i), riders.map(nameOf).filter((_, j) => j !== i)));
    fill(list, rows.slice(0, riders.length).map((r) => r.node));
  });
  return { node: list, apply: (riders) => riders.map((rider, i) => clean({ ...rider, ...rows[i].get() })) };
}

const nameOf = (rider, i) => rider.name || `Rider ${i + 1}`;

function riderRow(store, i) {
  const legend = el("legend");
  const own = group(store, `order-${i}`, [["team", "Team", "text"]]);
  const setup = selectField(`order-${i}-setup`, "Set-up");
  const order = selectField(`order-${i}-do`, "Races", orders, update);
  const at = selectField(`order-${i}-at`, "Where");
  const mate = selectField(`order-${i}-mate`, "For");
  function update() {
    at.node.hidden = !placed.includes(order.get());
    mate.node.hidden = order.get() !== "lead_out";
  }
  update();
  follow(store, ["setups"], () => {
    const named = (store.get("setups") ?? []).filter((s) => s.name);
    setup.set([["", "the first"], ...named.map((s) => [s.name, s.name])]);
    setup.node.hidden = named.length < 2;
  });
  follow(store, ["course", "units"], () => store.get("course") && at.set(placeChoices(store, everyKind), '{"finish":true}'));
  return {
    node: el("fieldset", {}, legend, row(own.fields[0], setup, order, at, mate)),
    name(name, others) {
      legend.textContent = name;
      mate.set(others.map((o) => [o, o]));
    },
    get() {
      const told = clean({ do: order.get(), at: at.node.hidden ? undefined : JSON.parse(at.get()), for_rider: mate.node.hidden ? undefined : mate.get() });
      return { ...own.read(), setup: setup.get(), orders: told.do ? [told] : undefined };
    },
  };
}
