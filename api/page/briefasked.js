// What the brief tells beside the course.

import { clean } from "./course.js";
import { el } from "./dom.js";
import { checkField, follow, group, more, row } from "./racefields.js";
import { requestOf } from "./racequestion.js";

const itineraryFields = [
  ["speed-1", "At an average of", "speed", 1, 30, { hint: "left empty: as the riders ride, or three speeds that fit the course" }],
  ["speed-2", "or of", "speed", 1, 30],
  ["speed-3", "or of", "speed", 1, 30],
  ["start_clock", "The clocks start at", "text", 0, 0, { hint: "left empty: from 0:00" }],
  ["neutral_m", "Neutral until", "along", 0, 100000],
  ["neutral_s", "which takes", "clock", 0, 36000],
];

/** The race questions as the brief takes them, and their words. */
const questionWords = { comparisons: "which set-up to ride", launches: "when to launch", aids: "where to use an aid", scenarios: "how the race will go" };

/** The fields; changed() is told of every change of them. */
export function toldFields(store, changed) {
  const keys = ["riders", "setups", "conditions", "effort", "questions"];
  const times = checkField("brief-times", "the riders' times", true);
  const itinerary = checkField("brief-itinerary", "an itinerary");
  const fields = group(store, "itinerary", itineraryFields);
  fields.field("start_clock").input.type = "time";
  const reckoned = more("How the itinerary is reckoned", fields.nodes);
  const questions = Object.entries(questionWords).map(([path, words]) => ({ path, ...checkField(`brief-${path}`, words, true) }));
  const hint = el("p", { class: "soft" }, "Race questions that were answered above can be told too.");
  const node = el("fieldset", { oninput: changed }, el("legend", {}, "Beside the course it tells"), row(times, itinerary, ...questions), hint, reckoned);
  const told = () => questions.filter((q) => store.get("questions")[q.path] && q.get());
  const withRiders = () => (times.get() || told().length > 0) && store.get("riders")?.length > 0;
  node.addEventListener("input", offer);
  follow(store, ["questions"], offer);
  function offer() {
    reckoned.hidden = !itinerary.get();
    for (const q of questions) q.node.hidden = !store.get("questions")[q.path];
    hint.hidden = questions.some((q) => !q.node.hidden);
  }

  /** The answers to tell; those are of riders, whose times are told beside. */
  function questionsAsked() {
    return told().length ? { questions: Object.fromEntries(told().map((q) => [q.path, store.get("questions")[q.path]])) } : {};
  }

  function itineraryAsked() {
    const { "speed-1": a, "speed-2": b, "speed-3": c, ...own } = fields.read();
    const speeds = [a, b, c].filter((s) => s !== undefined);
    return clean({ ...own, speeds_mps: speeds.length ? speeds : undefined });
  }
  return {
    node, keys,
    complain: () => !itinerary.get() || fields.complain(),
    valid: () => !itinerary.get() || fields.valid(),
    read: () => ({
      ...(withRiders() ? requestOf(store, keys.filter((k) => k !== "questions")) : {}), ...questionsAsked(),
      ...(itinerary.get() ? { itinerary: itineraryAsked() } : {}),
    }),
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
