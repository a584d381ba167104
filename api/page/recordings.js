// The recordings of a round, each with who rode it. This page alone holds them, until it is
// left: they stand neither in its address nor in what the browser keeps.

import { el, fill } from "./dom.js";
import { makeGroup } from "./fields.js";
import { follow, row, selectField } from "./racefields.js";
import { Problem } from "./service.js";
import { count, unitsOf } from "./wording.js";

/** As many rides, and bytes of a request, as the service takes. */
const mostRides = 200;
const mostBytes = 33554432;

const trimFields = [
  ["trim_start_m", "Cut off at its start", "short", 0, 100000],
  ["trim_end_m", "Cut off at its end", "short", 0, 100000],
];

/** What people call the riders and set-ups above, named or not. */
export const namesOf = (list, word) => (list ?? []).map((one, i) => one.name || `${word} ${i + 1}`);

/**
 * Makes the place where recordings are chosen or dropped, and the list of them. changed() is
 * told of whatever is chosen.
 */
export function recordingList(store, changed) {
  const rows = [];
  const list = el("div");
  const said = el("p", { role: "status", class: "soft" });
  const choose = el("input", { type: "file", id: "recordings", multiple: true, class: "out-of-sight", onchange: () => (add([...choose.files]), (choose.value = "")) });
  const drop = el("label", { class: "drop", for: "recordings" }, choose,
    el("strong", {}, "Drop recordings here, or choose them"), el("br"), "FIT, TCX or GPX with times; one file for each ride");
  let made = 0;

  // What is dropped here isn't a course: the page's own place for files leaves alone what was taken.
  for (const [name, over] of [["dragenter", true], ["dragover", true], ["dragleave", false], ["drop", false]]) {
    drop.addEventListener(name, (event) => {
      if (!event.dataTransfer?.types.includes("Files")) return;
      event.preventDefault();
      drop.classList.toggle("over", over);
      if (name === "drop") add([...event.dataTransfer.files]);
    });
  }

  function add(files) {
    const full = files.filter((f) => f.size > 0);
    const taken = full.slice(0, mostRides - rows.length);
    for (const file of taken) grow(file);
    const empty = files.length - full.length;
    said.textContent = [
      `${rows.length === 1 ? "One recording is" : `${count(rows.length)} recordings are`} here.`,
      empty > 0 && `Left out, being empty: ${files.filter((f) => f.size === 0).map((f) => f.name).join(", ")}.`,
      taken.length < full.length && `Up to ${mostRides} go together; ${full.length - taken.length} were left out.`,
    ].filter(Boolean).join(" ");
    changed();
  }

  function grow(file) {
    const id = `recording-${(made += 1)}`;
    const one = { file, rider: selectField(`${id}-rider`, "Ridden by"), setup: selectField(`${id}-setup`, "on"), trims: makeGroup(id, trimFields, () => {}) };
    offer(one, guess(file.name));
    one.trims.units(unitsOf(store.get("units")));
    const leave = el("button", { type: "button", class: "remove", onclick: () => shrink(one) }, `Leave out ${file.name}`);
    one.node = el("fieldset", {}, el("legend", {}, file.name), row(one.rider, one.setup, ...one.trims.fields), leave);
    rows.push(one);
    list.append(one.node);
  }

  function shrink(one) {
    rows.splice(rows.indexOf(one), 1);
    one.node.remove();
    said.textContent = `${one.file.name} was left out.`;
    choose.focus();
    changed();
  }

  /** Whose recording it is by its name, else the first rider who has none. */
  function guess(name) {
    const names = namesOf(store.get("riders"), "Rider");
    const named = names.findIndex((n) => name.toLowerCase().includes(n.toLowerCase()));
    const free = names.findIndex((_, i) => !rows.some((r) => r.rider.get() === String(i)));
    return String(Math.max(named >= 0 ? named : free, 0));
  }

  /** Offers the riders and set-ups that there are. */
  function offer(one, first = "0") {
    const choices = (names) => names.map((n, i) => [String(i), n]);
    one.rider.set(choices(namesOf(store.get("riders"), "Rider")), first);
    one.setup.set(choices(namesOf(store.get("setups"), "Set-up")));
    one.setup.node.hidden = !store.get("setups");
  }
  follow(store, ["riders", "setups"], () => rows.forEach((one) => offer(one)));
  store.on(["units"], ({ units }) => rows.forEach((one) => one.trims.units(unitsOf(units))));

  return {
    node: el("div", {}, drop, said, list), rows,
    /** The field of the ride at an index that a request names so. */
    field: (i, name) => rows[i]?.trims.field(name),
    complain: () => rows.every((one) => one.trims.complain()),
    /** The rides as requests have them, with `who` and `what` they are of the riders and set-ups above. */
    async read() {
      const bytes = rows.reduce((sum, { file }) => sum + 4 * Math.ceil(file.size / 3) + 2000, 0);
      if (bytes > mostBytes) {
        throw new Problem({
          type: "/problems/too-large", title: "The recordings are too large together",
          detail: `In a request they have ${count(bytes)} bytes; up to ${count(mostBytes)} are read. Compress them with gzip, or ask about some of them at a time.`,
        });
      }
      return Promise.all(rows.map(async (one) => ({
        name: one.file.name, who: Number(one.rider.get()), what: store.get("setups") ? Number(one.setup.get()) : null,
        trims: one.trims.read(), file: { encoding: "base64", content: await base64(one.file) },
      })));
    },
  };
}

/** A file's bytes in base64. */
function base64(file) {
  return new Promise((done, fail) => {
    const reader = new FileReader();
    reader.onload = () => done(reader.result.slice(reader.result.indexOf(",") + 1));
    reader.onerror = () => fail(new Problem({ title: "A recording can't be read", detail: `${file.name} can't be read any more: choose it again.` }));
    reader.readAsDataURL(file);
  });
}
