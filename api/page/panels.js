// The panels of a course, one for each part of the job.

import { mountAfter } from "./after.js";
import { mountBrief } from "./brief.js";
import { el, fill } from "./dom.js";
import { mountPlaces } from "./places.js";
import { mountProfile } from "./profile.js";
import { mountRace } from "./race.js";
import { mountRiders } from "./riders.js";
import { mountTake } from "./take.js";
import { mountTimes } from "./times.js";

/** Fills the page's parts; they are told of the course, and of whatever changes, by the store. */
export function mountPanels(store) {
  const part = (id) => document.getElementById(id);
  mountProfile(part("profile"), store);
  mountPlaces(part("places"), store);
  const riders = mountRiders(part("riders"), store);
  mountTimes(part("times"), store, riders);
  mountRace(part("race"), store, riders);
  mountTake(part("take"), store, mountBrief(part("brief"), store, riders));
  mountAfter(part("after"), store, riders);
  mountContents(part("contents"), store);
}

/** Links to the parts that are shown. */
function mountContents(nav, store) {
  store.on(["course"], ({ course }) => {
    nav.hidden = !course;
    const shown = [...document.querySelectorAll("main > section")].filter((s) => !s.hidden && s.querySelector("h2"));
    fill(nav, el("ul", {}, shown.map((s) => el("li", {}, el("a", { href: `#${s.id}` }, s.dataset.word)))));
  });
}
