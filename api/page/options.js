// What of the file is ridden, and how: the options of a course.

import { clean } from "./course.js";
import { el, fill } from "./dom.js";
import { markKinds } from "./whereabouts.js";
import { list, number, percent, unitsOf } from "./wording.js";

/**
 * The forms of the options. apply(options) reads the course with them. Returns {node, blame}:
 * blame(problem) marks the fields at fault.
 */
export function optionForms(store, apply) {
  const told = el("p", { class: "soft" });
  const lines = el("datalist", { id: "lap-lines" });
  const field = (id, words, input, hint) => el("div", { class: "field" }, el("label", { for: id }, words), input, hint ? el("span", { class: "hint" }, hint) : null);
  const text = (id) => el("input", { id, maxLength: 200, autocomplete: "off" });
  const whole = (id, max) => el("input", { id, type: "number", min: 1, max, step: 1 });
  const inputs = {
    laps: whole("option-laps", 200),
    lap_line: text("option-lap-line"),
    smoothing: el("select", { id: "option-smoothing" }, [["", "by the noise in it"], ["none", "none"], ["light", "light"], ["strong", "strong"]].map(([value, words]) =>
      el("option", { value }, words))),
    track: whole("option-track", 1000),
    name: text("option-name"),
    reverse: el("input", { id: "option-reverse", type: "checkbox" }),
  };
  inputs.lap_line.setAttribute("list", lines.id);
  const cuts = { start_m: lengthField("option-start", "Cut off before"), end_m: lengthField("option-end", "Cut off behind") };
  const marks = markForm(store, (all) => apply(read(all)));
  const form = el("form", { onsubmit: submit },
    el("div", { class: "row" },
      field("option-laps", "Laps in all", inputs.laps, "left out: as found"), field("option-lap-line", "Lap line", inputs.lap_line, "the name of a mark"), lines,
      cuts.start_m.node, cuts.end_m.node,
      field("option-smoothing", "Smoothing", inputs.smoothing), field("option-track", "Track of the file", inputs.track), field("option-name", "Name", inputs.name),
      el("div", { class: "field" }, el("span", {}, inputs.reverse, " ", el("label", { for: "option-reverse" }, "The other way round")))),
    el("p", {}, el("button", { id: "option-apply" }, "Read it so")));
  const node = el("details", { hidden: true }, el("summary", {}, "What of it is ridden"), told, form, marks.node);

  function read(all) {
    return clean({
      name: inputs.name.value.trim(), laps: inputs.laps.value, lap_line: inputs.lap_line.value.trim(), reverse: inputs.reverse.checked ? "true" : "",
      smoothing: inputs.smoothing.value, track: inputs.track.value, start_m: cuts.start_m.metres(), end_m: cuts.end_m.metres(), marks: all,
    });
  }

  function submit(event) {
    event.preventDefault();
    apply(read(store.get("options").marks ?? []));
  }

  /** Writes the options that the course was read with into the fields. */
  function show() {
    const [options, u] = [store.get("options"), unitsOf(store.get("units"))];
    for (const [name, input] of Object.entries(inputs)) {
      if (name === "reverse") input.checked = Boolean(options.reverse);
      else input.value = options[name] ?? "";
    }
    for (const [name, cut] of Object.entries(cuts)) cut.show(options[name] ?? null, u);
    marks.show();
    blame({});
  }

  /** Marks the fields that a problem names, and goes to the first. */
  function blame({ errors = [] }) {
    const fields = { ...inputs, start_m: cuts.start_m.input, end_m: cuts.end_m.input, mark: marks.at.input };
    for (const [name, input] of Object.entries(fields)) {
      const fault = errors.find((e) => e.parameter === name);
      input.parentElement.querySelector(".wrong")?.remove();
      for (const attribute of ["aria-invalid", "aria-describedby"]) input.removeAttribute(attribute);
      if (!fault) continue;
      input.setAttribute("aria-invalid", "true");
      input.setAttribute("aria-describedby", `${input.id}-wrong`);
      input.after(el("span", { class: "wrong", id: `${input.id}-wrong` }, fault.detail));
    }
    const first = node.querySelector("[aria-invalid]");
    if (first) node.open = true;
    first?.focus();
  }

  store.on(["course"], ({ course }) => {
    node.hidden = !course;
    if (!course) return;
    fill(lines, course.marks.map((m) => el("option", { value: m.name })));
    show();
  });
  store.on(["course", "units"], ({ course, units }) => {
    if (!course) return;
    told.textContent = lapsTold(course, unitsOf(units));
    for (const field of [...Object.values(cuts), marks.at]) field.show(field.metres(), unitsOf(units));
    marks.list();
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

/** A field for a position, typed in the long unit; metres() is it in m, null where empty. */
function lengthField(id, words) {
  const input = el("input", { id, type: "number", min: 0, step: "any" });
  const label = el("label", { for: id });
  let longM = 1000;
  let shown = ["", null];
  return {
    input, node: el("div", { class: "field" }, label, input),
    show(m, u) {
      longM = u.longM;
      shown = [m === null ? "" : number(Number(m) / longM, 3), m];
      input.value = shown[0];
      input.max = Math.floor(5e6 / longM);
      label.textContent = `${words}, ${u.long}`;
    },
    metres: () => (input.value === shown[0] ? shown[1] : input.value === "" ? null : Math.round(Number(input.value) * longM * 1000) / 1000),
  };
}

/** The form of places beside those of the file; apply(marks) reads the course with them. */
function markForm(store, apply) {
  const shown = el("ul");
  const name = el("input", { id: "mark-name", required: true, maxLength: 200, pattern: "[^,]*", title: "A name without a comma", autocomplete: "off" });
  const kind = el("select", { id: "mark-kind" }, Object.entries(markKinds).map(([value, words]) => el("option", { value }, words)));
  const at = lengthField("mark-at", "At");
  at.input.required = true;
  const marks = () => store.get("options").marks ?? [];
  const node = el("form", { onsubmit: add }, el("fieldset", {}, el("legend", {}, "Places of your own"), shown,
    el("div", { class: "row" },
      el("div", { class: "field" }, el("label", { for: "mark-name" }, "Name"), name),
      el("div", { class: "field" }, el("label", { for: "mark-kind" }, "What it is"), kind), at.node,
      el("button", { type: "button", id: "mark-here", onclick: () => at.show(Math.round(store.get("cursorM") * 10) / 10, unitsOf(store.get("units"))) }, "Where the cursor is"),
      el("button", { id: "mark-add" }, "Add the place"))));

  function add(event) {
    event.preventDefault();
    apply([...marks(), { name: name.value.trim(), kind: kind.value, at_m: at.metres() }]);
  }

  return {
    node, at,
    show() {
      name.value = "";
      at.show(null, unitsOf(store.get("units")));
    },
    list() {
      const u = unitsOf(store.get("units"));
      shown.hidden = !marks().length;
      fill(shown, marks().map((m, i) => el("li", {},
        `${m.name}, ${markKinds[m.kind] ?? markKinds.other}${m.at_m === undefined ? "" : `, at ${u.length(Number(m.at_m))}`} `,
        el("button", { type: "button", "aria-label": `Leave out ${m.name}`, onclick: () => apply(marks().filter((_, k) => k !== i)) }, "Leave out"))));
    },
  };
}
