// What the brief tells beside the course.

import { clean } from "./course.js";
import { el } from "./dom.js";
import { checkField, group, more, row } from "./racefields.js";
import { requestOf } from "./racequestion.js";

const itineraryFields = [
  ["speed-1", "At an average of", "speed", 1, 30, { hint: "left empty: as the riders ride, or three speeds that fit the course" }],
  ["speed-2", "or of", "speed", 1, 30],
  ["speed-3", "or of", "speed", 1, 30],
  ["start_clock", "The clocks start at", "text", 0, 0, { hint: "left empty: from 0:00" }],
  ["neutral_m", "Neutral until", "long", 0, 100000],
  ["neutral_s", "which takes", "clock", 0, 36000],
];

/** The fields; changed() is told of every change of them. */
export function toldFields(store, changed) {
  const keys = ["riders", "setups", "conditions", "effort"];
  const times = checkField("brief-times", "the riders' times", true);
  const itinerary = checkField("brief-itinerary", "an itinerary");
  const fields = group(store, "itinerary", itineraryFields);
  fields.field("start_clock").input.type = "time";
  const reckoned = more("How the itinerary is reckoned", fields.nodes);
  const node = el("fieldset", { oninput: update }, el("legend", {}, "Beside the course it tells"), row(times, itinerary), reckoned);
  const withRiders = () => times.get() && store.get("riders")?.length > 0 && store.get("effort") !== null;
  function update() {
    reckoned.hidden = !itinerary.get();
    changed();
  }

  function itineraryAsked() {
    const { "speed-1": a, "speed-2": b, "speed-3": c, ...own } = fields.read();
    const speeds = [a, b, c].filter((s) => s !== undefined);
    return clean({ ...own, speeds_mps: speeds.length ? speeds : undefined });
  }
  reckoned.hidden = true;
  return {
    node, keys,
    check: () => !itinerary.get() || fields.complain(),
    read: () => ({ ...(withRiders() ? requestOf(store, keys) : {}), ...(itinerary.get() ? { itinerary: itineraryAsked() } : {}) }),
    /** Says at the fields what is wrong with them, and returns those. */
    point(problem) {
      const faults = (problem.errors ?? []).filter((e) => e.pointer?.startsWith("#/itinerary/"));
      return faults.map((e) => {
        const [, , name, i] = e.pointer.split("/");
        const field = fields.field(name === "speeds_mps" ? `speed-${Number(i ?? 0) + 1}` : name);
        field?.fault(e.detail);
        return field;
      }).filter(Boolean);
    },
  };
}
