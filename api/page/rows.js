// Lists of the same small form: riders, set-ups.

import { el } from "./dom.js";
import { makeGroup } from "./fields.js";
import { unitsOf } from "./wording.js";

/**
 * Makes a list of up to `most` forms of `specs`. `word` is what one is called, more(row) what
 * stands below its fields, tell(values, u) what its summary says beside its name.
 */
export function makeRows({ word, specs, most, store, changed, tell, below }) {
  const rows = [];
  const node = el("div");
  const add = el("button", { type: "button", id: `add-${word}`, onclick: () => grow().group.fields[0].input.focus() }, `Add a ${word}`);
  let made = 0;

  /** Adds a form that holds values; the folded ones of a long list are opened one by one. */
  function grow(values, open = true) {
    const prefix = `${word.replaceAll("-", "")}-${(made += 1)}`;
    const title = el("summary");
    const row = { title, group: makeGroup(prefix, specs, () => (name(row), changed()), `More about the ${word}`) };
    const form = el("form", { onsubmit: (event) => event.preventDefault() },
      el("fieldset", {}, el("legend", { class: "out-of-sight" }, `One ${word}`), row.group.nodes));
    row.remove = el("button", { type: "button", class: "remove", onclick: () => shrink(row) });
    row.node = el("details", { open, class: "one" }, title, form, below?.(row, prefix),
      el("p", {}, row.remove));
    row.group.units(unitsOf(store.get("units")));
    if (values) row.group.write(values);
    rows.push(row);
    node.append(row.node);
    settle();
    return row;
  }

  function shrink(row) {
    const at = rows.indexOf(row);
    rows.splice(at, 1);
    row.node.remove();
    settle();
    (rows[at]?.title ?? (add.disabled ? rows.at(-1)?.title : add)).focus();
  }

  function settle() {
    add.disabled = rows.length >= most;
    rows.forEach(name);
    changed();
  }

  function name(row) {
    const values = row.group.read();
    const called = values.name ?? `${word[0].toUpperCase()}${word.slice(1)} ${rows.indexOf(row) + 1}`;
    row.remove.textContent = `Remove ${called}`;
    row.title.textContent = [called, ...tell(values, unitsOf(store.get("units")))].join(" · ");
  }

  store.on(["units"], ({ units }) => {
    for (const row of rows) row.group.units(unitsOf(units));
    rows.forEach(name);
  });
  return {
    node, add, rows, grow,
    /** The values of all; null where one isn't right. */
    read: () => (rows.every((r) => r.group.valid()) ? rows.map((r) => r.group.read()) : null),
    /** Replaces all. */
    write(list) {
      for (const row of rows.splice(0)) row.node.remove();
      list.slice(0, most).forEach((values, i, all) => grow(values, all.length < 4));
      settle();
    },
    /** Says anew in the summaries what the forms hold. */
    tell: () => rows.forEach(name),
    complain: () => rows.every((r) => r.group.complain()),
  };
}
