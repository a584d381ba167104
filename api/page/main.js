// The page: one store, and a panel for each part of the job.

import { keepAddress, readAddress } from "./address.js";
import { mountBrief } from "./brief.js";
import { openDemo, openHeld } from "./course.js";
import { el, fill } from "./dom.js";
import { goTo, mountOpen } from "./open.js";
import { mountPlaces } from "./places.js";
import { mountProfile } from "./profile.js";
import { mountRace } from "./race.js";
import { mountRiders } from "./riders.js";
import { mountSettings } from "./settings.js";
import { makeStore } from "./store.js";
import { mountTake } from "./take.js";
import { mountTimes } from "./times.js";

const part = (id) => document.getElementById(id);
const asked = readAddress();

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
  questions: {}, // the race questions answered last, by call, as BriefRequest.questions takes them
});

mountSettings(part("settings"), store);
const opening = mountOpen(part("open"), store);
mountProfile(part("profile"), store);
mountPlaces(part("places"), store);
mountTimes(part("times"), store, mountRiders(part("riders"), store));
mountRace(part("race"), store);
mountBrief(part("brief"), store);
mountTake(part("take"), store);
mountContents(part("contents"));
keepAddress(store);
followLinks();
start();

/** Opens what the address asks for. */
async function start() {
  if (asked.demo) await opening.run("the course", (signal) => openDemo(store, asked.demo, asked.options, signal));
  else if (asked.held) await opening.run("the course", (signal) => openHeld(store, asked.held, signal));
  if (store.get("course") && asked.focus) store.set({ focus: asked.focus });
}

/** Links to the parts that are shown. */
function mountContents(nav) {
  store.on(["course"], ({ course }) => {
    nav.hidden = !course;
    const shown = [...document.querySelectorAll("main > section")].filter((s) => !s.hidden && s.querySelector("h2"));
    fill(nav, el("ul", {}, shown.map((s) => el("li", {}, el("a", { href: `#${s.id}` }, s.dataset.word)))));
  });
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
