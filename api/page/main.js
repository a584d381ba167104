// The page: one store, the opening of a course, and, once there is one, a panel for each part
// of the job.

import { keepAddress, readAddress } from "./address.js";
import { openDemo, openHeld } from "./course.js";
import { goTo, mountOpen } from "./open.js";
import { Problem } from "./service.js";
import { mountSettings } from "./settings.js";
import { makeStore } from "./store.js";

const part = (id) => document.getElementById(id);
const asked = readAddress();
let panels = null;

const store = makeStore({
  source: null, // {name, blob, demo?}: the file that the course was read from; null where only the service holds it
  options: {}, // the options that it was read with, as they are sent
  course: null, // the service's analysis, with its profile
  units: asked.units ?? "metric",
  theme: asked.theme ?? "auto",
  look: "light", // what the theme comes to
  focus: "course", // what the picture shows
  climb: null, // the id of the climb that is looked at closely; null for the hardest
  part: "", // whose places are listed: "" for all, "cursor" for the lap where the cursor is, or an index of the course's parts
  cursorM: 0, // where on the course the reader looks
  // What is asked of riders, each as the requests of the service take it, in SI: the last that
  // was right, whatever is being typed.
  riders: null, // [Rider, …], one at least; null before there was one
  setups: null, // [Setup, …], or null: the service's own all-round one
  conditions: {}, // Conditions; what is left to the service is absent
  effort: null, // Effort, of all riders
  predictions: null, // {request, answer} of the last predictions of this course
  plans: null, // the same of plans
  panels: loadPanels, // resolves when the panels are there to be told of a course
  questions: {}, // the race questions answered last, by call, as BriefRequest.questions takes them
});

mountSettings(part("settings"), store);
const opening = mountOpen(part("open"), store);
keepAddress(store);
followLinks();
start();

/** Opens what the address asks for. */
async function start() {
  if (asked.demo) await opening.run("the course", (signal) => openDemo(store, asked.demo, asked.options, signal));
  else if (asked.held) await opening.run("the course", (signal) => openHeld(store, asked.held, signal));
  if (store.get("course") && asked.focus) store.set({ focus: asked.focus });
}

/** Gets the panels with the first course: until then nobody needs them. */
function loadPanels() {
  panels ??= import("./panels.js").then(({ mountPanels }) => mountPanels(store), () => {
    throw new Problem({ title: "A part of this page can't be had", detail: "Look at the connection, and load the page again." });
  });
  return panels;
}

/** Goes to parts of the page without touching the address, which holds the state. */
function followLinks() {
  document.addEventListener("click", (event) => {
    const id = event.target.closest?.('a[href^="#"]')?.getAttribute("href").slice(1);
    if (!id) return;
    event.preventDefault();
    goTo(id);
  });
}
