// The race's questions, each asked and answered for itself.

import { el, fill } from "./dom.js";
import { aidQuestion } from "./raceaids.js";
import { fieldQuestion } from "./racefield.js";
import { launchQuestion } from "./racelaunch.js";
import { question } from "./racequestion.js";
import { setupQuestion } from "./racesetups.js";

/** Fills the section, which is there when a course is. */
export function mountRace(section, store) {
  store.on(["course"], ({ course }) => {
    section.hidden = !course;
    store.set({ questions: {} });
  });
  fill(section,
    el("h2", { id: "race-title" }, "Race"),
    el("p", { class: "soft" }, "Four questions of a race. The riders, set-ups and conditions are those given above; the brief can tell what comes out."),
    [setupQuestion, launchQuestion, aidQuestion, fieldQuestion].map((of) => question(store, of(store))));
}
