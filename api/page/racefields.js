// What the questions' forms need beside the fields of numbers and texts.

import { el, fill } from "./dom.js";
import { makeGroup } from "./fields.js";
import { unitsOf } from "./wording.js";

/** Calls told now, and again whenever one of the store's keys changes. */
export function follow(store, keys, told) {
  store.on(keys, told);
  told();
}

/** A group of fields in the page's units, with what stands in them at first. */
export function group(store, prefix, specs, moreWords, first) {
  const made = makeGroup(prefix, specs, () => {}, moreWords);
  follow(store, ["units"], () => made.units(unitsOf(store.get("units"))));
  if (first) made.write(first);
  return made;
}

/** A box to tick, with its words. */
export function checkField(id, words, checked = false) {
  const input = el("input", { type: "checkbox", id, checked });
  return { node: el("div", { class: "field" }, el("span", {}, input, " ", el("label", { for: id }, words))), get: () => input.checked };
}

/** A choice of [value, words]; choices can be set anew, and keep what is chosen. */
export function selectField(id, words, choices = [], onchange = null) {
  const input = el("select", { id, onchange });
  const set = (list, first = "") => {
    const chosen = input.value || first;
    fill(input, list.map(optionOf));
    input.value = chosen;
    if (input.selectedIndex < 0) input.value = first;
    if (input.selectedIndex < 0) input.selectedIndex = 0;
  };
  set(choices);
  return { node: el("div", { class: "field" }, el("label", { for: id }, words), input), set, choose: (value) => (input.value = value), get: () => input.value };
}

/** An option of [value, words], or a group of [words, [options]]. */
function optionOf([value, words]) {
  if (Array.isArray(words)) return el("optgroup", { label: value }, words.map(optionOf));
  return el("option", { value }, words);
}

/** What is seldom needed, folded. */
export const more = (words, ...children) => el("details", {}, el("summary", {}, words), children);

/** Fields beside each other. */
export const row = (...fields) => el("div", { class: "row" }, fields.map((f) => f.node));
