// Fields of the questions' forms. A number is typed in the reader's units and read in SI.

import { el, fill } from "./dom.js";
import { number, unitsOf } from "./wording.js";

/** Calls told now, and again whenever one of the store's keys changes. */
export function follow(store, keys, told) {
  store.on(keys, told);
  told();
}

/** The unit of a kind of quantity, and how much of the contract's unit it is. */
function unitOf(kind, u) {
  switch (kind) {
    case "mass": return [u.massUnit, u.kgPerMass];
    case "speed": return [u.speedUnit, u.mpsPerSpeed];
    case "long": return [u.long, u.longM];
    case "short": return [u.short, u.shortM];
    case "percent": return ["%", 0.01];
    default: return [kind ?? "", 1];
  }
}

/**
 * A field for a number. Kind is mass, speed, long, short or percent, whose bounds and value
 * are given and read in SI, or else the unit's name; pointer is where a request has it, with
 * "*" for a number. get returns undefined for an empty field.
 */
export function numberField(store, { id, words, kind, min, max, value, step = "any", pointer, hint, required = false }) {
  const input = el("input", { type: "number", id, step, required, autocomplete: "off", "data-pointer": pointer, "aria-describedby": hint ? `${id}-hint` : null });
  const label = el("label", { for: id });
  let si = value;
  let factor = 1;
  const shown = (v) => (v === undefined ? "" : number(v / factor, 4));
  input.addEventListener("input", () => {
    si = input.value === "" ? undefined : Number(input.value) * factor;
  });
  follow(store, ["units"], () => {
    const [unit, size] = unitOf(kind, unitsOf(store.get("units")));
    factor = size;
    label.textContent = unit ? `${words}, ${unit}` : words;
    if (min !== undefined) input.min = Math.ceil((min / factor) * 1e4) / 1e4;
    if (max !== undefined) input.max = Math.floor((max / factor) * 1e4) / 1e4;
    input.value = shown(si);
  });
  const node = el("div", { class: "field" }, label, input, hint ? el("span", { class: "hint", id: `${id}-hint` }, hint) : null);
  return { node, input, get: () => si };
}

/** A field for a text; get returns undefined for an empty one. */
export function textField({ id, words, value = "", max = 200, pointer, hint, pattern, required = false }) {
  const input = el("input", { id, value, maxLength: max, pattern, required, autocomplete: "off", title: pattern ? hint : null,
    "data-pointer": pointer, "aria-describedby": hint ? `${id}-hint` : null });
  const node = el("div", { class: "field" }, el("label", { for: id }, words), input, hint ? el("span", { class: "hint", id: `${id}-hint` }, hint) : null);
  return { node, input, get: () => input.value.trim() || undefined };
}

/** A box to tick, with its words. */
export function checkField({ id, words, checked = false, pointer }) {
  const input = el("input", { type: "checkbox", id, checked, "data-pointer": pointer });
  return { node: el("div", { class: "field" }, el("span", {}, input, " ", el("label", { for: id }, words))), input, get: () => input.checked };
}

/** A choice of [value, words]; choices can be set anew, and keep what is chosen. */
export function selectField({ id, words, choices = [], pointer, hint, onchange }) {
  const input = el("select", { id, "data-pointer": pointer, "aria-describedby": hint ? `${id}-hint` : null, onchange });
  const set = (list, first) => {
    const chosen = input.value;
    fill(input, list.map(optionOf));
    const values = [...input.options].map((o) => o.value);
    input.value = values.includes(chosen) ? chosen : (first ?? values[0] ?? "");
  };
  set(choices);
  const node = el("div", { class: "field" }, el("label", { for: id }, words), input, hint ? el("span", { class: "hint", id: `${id}-hint` }, hint) : null);
  return { node, input, set, get: () => input.value };
}

/** An option of [value, words], or a group of [words, [options]]. */
function optionOf([value, words]) {
  if (Array.isArray(words)) return el("optgroup", { label: value }, words.map(optionOf));
  return el("option", { value }, words);
}

/** What is seldom needed, folded. */
export function more(words, ...children) {
  return el("details", {}, el("summary", {}, words), children);
}

/** Fields beside each other. */
export const row = (...fields) => el("div", { class: "row" }, fields.map((f) => f.node ?? f));
