// The race's questions, each asked and answered for itself.

import { el, fill } from "./dom.js";
import { aidQuestion } from "./raceaids.js";
import { fieldQuestion } from "./racefield.js";
import { follow } from "./racefields.js";
import { launchQuestion } from "./racelaunch.js";
import { question } from "./racequestion.js";
import { setupQuestion } from "./racesetups.js";

/** Fills the section, which is there when a course is; riders is what mountRiders returned. */
export function mountRace(section, store, riders) {
  follow(store, ["course"], () => {
    section.hidden = !store.get("course");
    store.set({ questions: {} });
  });
  const [setups, ...others] = [setupQuestion, launchQuestion, aidQuestion, fieldQuestion].map((of) => question(store, riders, of(store)));
  setups.open = true;
  fill(section,
    el("h2", { id: "race-title" }, "Race"),
    el("p", { class: "soft" }, "Four questions of a race, asked of the riders, set-ups and conditions above; the brief can tell what comes out."),
    setups, others);
}
