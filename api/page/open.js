// Opening a course: a file dropped or chosen, or one of the service's own.

import { openDemo, openFile } from "./course.js";
import { el, fill, problemBox } from "./dom.js";
import { optionForms } from "./options.js";
import { calledOff } from "./service.js";

const demos = [
  ["morvask-laps-and-climb", "Five laps, then a wall"],
  ["quellmere-criterium", "A criterium of 25 laps"],
  ["ludwether-mountain-stage", "A mountain stage"],
  ["hoskerrow-eight", "A course that crosses itself"],
  ["brambleseth-time-trial", "A time trial, out and back"],
  ["skarnholt-hill-climb", "A hill climb"],
];

/** Fills the section and returns how to open a source from elsewhere (an address). */
export function mountOpen(section, store) {
  const status = el("p", { role: "status", class: "soft" });
  const trouble = el("div");
  const options = optionForms(store, reopen);
  let running = null;

  /** Runs one opening; a newer one calls an older one off. */
  async function run(what, open) {
    running?.abort();
    const mine = (running = new AbortController());
    fill(trouble);
    section.setAttribute("aria-busy", "true");
    status.textContent = `Reading ${what} …`;
    try {
      const course = await open(mine.signal);
      status.textContent = `${course.name || "The course"} is open.`;
      return course;
    } catch (error) {
      if (calledOff(error)) return null;
      status.textContent = "";
      fill(trouble, problemBox(error));
      options.blame(error);
      return null;
    } finally {
      if (running === mine) section.removeAttribute("aria-busy");
    }
  }

  function reopen(values) {
    const source = store.get("source");
    if (!source) {
      status.textContent = "Choose the file again, so that it can be read with these options.";
      return;
    }
    run(source.name, (signal) => openFile(store, source, values, signal));
  }

  const choose = el("input", { type: "file", id: "file", class: "out-of-sight", onchange: () => choose.files[0] && take(choose.files[0]) });
  async function take(file) {
    if (await run(file.name, (signal) => openFile(store, { name: file.name, blob: file }, {}, signal))) goTo("profile-title");
    choose.value = ""; // so that the same file can be chosen again
  }

  const drop = el("label", { class: "drop", for: "file" }, choose,
    el("strong", {}, "Drop a course file here, or choose one"),
    el("br"), "GPX, GeoJSON, KML, FIT, TCX or a table; up to 32 MB");
  for (const name of ["dragenter", "dragover"]) {
    document.addEventListener(name, (event) => {
      if (!event.dataTransfer?.types.includes("Files")) return;
      drop.classList.toggle("over", !event.defaultPrevented); // another place takes it
      event.preventDefault();
    });
  }
  document.addEventListener("dragleave", (event) => event.relatedTarget ?? drop.classList.remove("over"));
  document.addEventListener("drop", (event) => {
    if (event.defaultPrevented || !event.dataTransfer?.types.includes("Files")) return;
    event.preventDefault();
    drop.classList.remove("over");
    if (event.dataTransfer.files[0]) take(event.dataTransfer.files[0]);
  });

  fill(section,
    el("h2", { id: "open-title" }, "Course"),
    drop,
    el("p", { id: "demos-title" }, "Or try one of an invented season:"),
    el("ul", { class: "demos", "aria-labelledby": "demos-title" }, demos.map(([demo, words]) =>
      el("li", {}, el("button", { type: "button", "data-demo": demo, onclick: () => tryDemo(demo) }, words)))),
    status, trouble, options.node);

  async function tryDemo(demo) {
    if (await run("the course", (signal) => openDemo(store, demo, {}, signal))) goTo("profile-title");
  }
  return { run, trouble };
}

/** Moves the reader, eyes and keyboard, to an element. */
export function goTo(id) {
  const target = document.getElementById(id);
  target.tabIndex = -1;
  target.focus({ preventScroll: true });
  target.scrollIntoView();
}
