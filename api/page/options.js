// What of the file is ridden, and how: the options of a course.

import { clean } from "./course.js";
import { el, fill } from "./dom.js";
import { goToField, makeGroup } from "./fields.js";
import { markKinds } from "./whereabouts.js";
import { list, percent, unitsOf } from "./wording.js";

const choices = (words) => Object.entries(words).map(([value, text]) => [JSON.stringify(value), text]);

const optionFields = [
  ["laps", "Laps in all", "", 1, 200, { hint: "left out: as found" }],
  ["lap_line", "Lap line", "text", 0, 0, { hint: "the name of a mark" }],
  ["start_m", "Cut off before", "along", 0, 5e6],
  ["end_m", "Cut off behind", "along", 1, 5e6],
  ["reverse", "Ridden", [["null", "as the file runs"], ["true", "the other way round"]]],
  ["smoothing", "Smoothing", [["null", "by the noise in it"], ...choices({ none: "none", light: "light", strong: "strong" })]],
  ["track", "Track of the file", "", 1, 1000],
  ["name", "Name", "text"],
];

const markFields = [
  ["name", "Name", "text", 0, 0, { required: true }],
  ["kind", "What it is", choices(markKinds)],
  ["at_m", "At", "along", 0, 5e6, { required: true }],
];

/**
 * The forms of the options. apply(options) reads the course with them. Returns {node, blame}:
 * blame(problem) says at the fields what is wrong with them.
 */
export function optionForms(store, apply) {
  const told = el("p", { class: "soft" });
  const lines = el("datalist", { id: "lap-lines" });
  const options = makeGroup("option", optionFields, () => {});
  options.field("lap_line").input.setAttribute("list", lines.id);
  for (const name of ["laps", "track"]) options.field(name).input.step = 1;
  const read = (marks) => clean({ ...options.read(), marks });
  const marks = markForm(store, (all) => apply(read(all)));
  const form = el("form", { onsubmit: submit }, options.nodes, lines, el("p", {}, el("button", { id: "option-apply" }, "Read it so")));
  const node = el("details", { hidden: true }, el("summary", {}, "What of it is ridden"), told, form, marks.node);

  function submit(event) {
    event.preventDefault();
    apply(read(store.get("options").marks));
  }

  function blame({ errors = [] }) {
    const fields = [...options.fields, { ...marks.at, name: "mark" }];
    const blamed = fields.filter((f) => {
      const fault = errors.find((e) => e.parameter === f.name);
      f.fault(fault?.detail ?? "");
      return fault;
    });
    if (blamed.length) goToField(blamed[0]);
  }

  store.on(["course"], ({ course, options: now }) => {
    node.hidden = !course;
    if (!course) return;
    fill(lines, course.marks.map((m) => el("option", { value: m.name })));
    options.write({ ...now, reverse: now.reverse ?? null, smoothing: now.smoothing ?? null });
    marks.clear();
  });
  store.on(["course", "units"], ({ course, units }) => {
    const u = unitsOf(units);
    if (course) told.textContent = lapsTold(course, u);
    options.units(u);
    marks.show(u);
  });
  return { node, blame };
}

/** Says where the laps come from, and how well they lie on each other. */
function lapsTold(course, u) {
  const { count, source, length_m: long, agreement } = course.laps;
  if (source === "none") return "No laps were found in the file.";
  const found = source === "declared" ? "laps were asked for" : "laps were found in the file";
  const circuits = course.other_circuits.map((o) => `one of ${u.length(o.length_m)}, ridden ${o.count} times from ${u.length(o.start_m)} on`);
  return `${count} ${found}, of ${u.length(long)} each; they agree with each other to ${percent(agreement)}.`
    + (circuits.length ? ` Beside that circuit there is ${list(...circuits)}.` : "");
}

/** The form of places beside those of the file; apply(marks) reads the course with them. */
function markForm(store, apply) {
  const shown = el("ul");
  const fields = makeGroup("mark", markFields, () => {});
  const at = fields.field("at_m");
  Object.assign(fields.field("name").input, { pattern: "[^,]*", title: "A name without a comma" });
  const marks = () => store.get("options").marks ?? [];
  const node = el("form", { onsubmit: add }, el("fieldset", {}, el("legend", {}, "Places of your own"), shown, fields.nodes,
    el("p", { class: "row" },
      el("button", { id: "mark-add" }, "Add the place"),
      el("button", { type: "button", id: "mark-here", onclick: () => (at.value = Math.round(store.get("cursorM") * 10) / 10) }, "Take the cursor's place"))));

  function add(event) {
    event.preventDefault();
    apply([...marks(), fields.read()]);
  }

  return {
    node, at,
    clear: () => fields.write({ kind: "sprint" }),
    show(u) {
      fields.units(u);
      shown.hidden = !marks().length;
      fill(shown, marks().map((m, i) => el("li", {},
        `${m.name}, ${markKinds[m.kind] ?? markKinds.other}${m.at_m === undefined ? "" : `, at ${u.length(m.at_m)}`} `,
        el("button", { type: "button", "aria-label": `Leave out ${m.name}`, onclick: () => apply(marks().filter((_, k) => k !== i)) }, "Leave out"))));
    },
  };
}
