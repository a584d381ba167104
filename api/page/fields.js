// Fields of forms. People type in the units they read; a field's value is the contract's.

import { clean } from "./course.js";
import { el, fill } from "./dom.js";
import { clock, number, unitsOf } from "./wording.js";

/** What a quantity is typed in: the unit, how much of the contract's one is, the decimals shown. */
function typedIn(quantity, u) {
  switch (quantity) {
    case "mass": return [u.massUnit, u.kgPerMass, u.imperial ? 1 : 3];
    case "speed": return [u.speedUnit, u.mpsPerSpeed, 2];
    case "stature": return u.imperial ? ["in", u.shortM / 12, 1] : ["m", 1, 3];
    case "along": return [u.long, u.longM, 3];
    case "short": return [u.short, u.shortM, 1];
    case "kJ": return ["kJ", 1000, 3];
    case "share": return ["%", 0.01, 3];
    default: return [quantity, 1, 6];
  }
}

/** A bound as it is typed, on the right side of the contract's. */
const bound = (v, per, side) => (per === 1 ? v : number(Math[side]((v / per) * 100 + (side === "ceil" ? -1e-6 : 1e-6)) / 100, 2));

/** How values that aren't numbers are shown and read: texts, times, and choices of [JSON, words]. */
const others = {
  text: { make: (id) => el("input", { id, maxLength: 200, autocomplete: "off" }), read: (typed) => typed.trim(), write: (v) => v },
  clock: {
    make: (id) => el("input", { id, class: "short", autocomplete: "off", pattern: "([0-9]{1,3}:)?[0-5]?[0-9]:[0-5][0-9]", placeholder: "h:mm:ss", title: "A time as 12:30 or 1:02:30" }),
    read: (typed) => typed.split(":").reduce((s, part) => 60 * s + Number(part), 0) || undefined,
    write: clock,
  },
  choice: { make: (id, options) => el("select", { id }, options.map(([value, words]) => el("option", { value }, words))), read: JSON.parse, write: JSON.stringify },
};

/**
 * Makes a field from [name, words, quantity, low, high, {hint?, required?, whole?, more?}], the
 * bounds in the contract's unit. A quantity is "text", "clock", a list of choices, one that
 * has units of its own, or a unit. changed() is told of whatever is typed.
 */
export function makeField([name, words, quantity, low, high, { hint, required, whole, more } = {}], prefix, changed) {
  const id = `${prefix}-${name}`;
  const how = Array.isArray(quantity) ? others.choice : others[quantity];
  const input = how ? how.make(id, quantity) : el("input", { id, type: "number", step: whole ? 1 : "any", autocomplete: "off" });
  const label = el("label", { for: id }, words);
  const wrong = el("span", { class: "wrong", id: `${id}-wrong`, hidden: true });
  const node = el("div", { class: "field" }, label, input, hint ? el("span", { class: "hint", id: `${id}-hint` }, hint) : null, wrong);
  let [unit, per, decimals] = typedIn(quantity, unitsOf("metric"));
  let held;
  input.required = Boolean(required);
  input.addEventListener("input", () => {
    fault("");
    const right = input.value !== "" && input.validity.valid;
    if (!right) held = undefined;
    else held = how ? how.read(input.value) : Number((Number(input.value) * per).toPrecision(12));
    changed();
  });

  /** Says at the field what is wrong with it, or with "" that nothing is. */
  function fault(detail) {
    fill(wrong, detail);
    wrong.hidden = !detail;
    if (detail) input.setAttribute("aria-invalid", "true");
    else input.removeAttribute("aria-invalid");
    const about = [hint ? `${id}-hint` : "", detail ? `${id}-wrong` : ""].filter(Boolean).join(" ");
    if (about) input.setAttribute("aria-describedby", about);
    else input.removeAttribute("aria-describedby");
  }
  fault("");

  return {
    name, node, input, fault, more,
    get value() {
      return input.disabled ? undefined : held;
    },
    set value(v) {
      held = v;
      if (v === undefined) input.value = "";
      else input.value = how ? how.write(v) : number(v / per, decimals);
      fault("");
    },
    /** Whether a value could be one of the field's. */
    takes: (v) => (quantity === "text" ? typeof v === "string" && v.length <= 200 : how === others.choice ? quantity.some(([value]) => value === JSON.stringify(v))
      : typeof v === "number" && v >= low && v <= high),
    /** Lets people type in other units; what stands there is brought to them. */
    units(u) {
      if (how) return;
      [unit, per, decimals] = typedIn(quantity, u);
      fill(label, unit ? `${words}, ${unit}` : words);
      input.min = bound(low, per, "ceil");
      input.max = bound(high, per, "floor");
      if (held !== undefined) input.value = number(held / per, decimals);
    },
    /** Shows the field or takes it, and what it holds, out. */
    offer(is) {
      node.hidden = !is;
      input.disabled = !is;
    },
  };
}

/** Makes the fields of one object of a request; those with `more` stand behind a summary. */
export function makeGroup(prefix, specs, changed, moreWords) {
  const fields = specs.map((spec) => makeField(spec, prefix, changed));
  const open = fields.filter((f) => !f.more);
  const rest = fields.filter((f) => f.more);
  const row = (some) => el("div", { class: "row" }, some.map((f) => f.node));
  return {
    fields,
    nodes: [row(open), rest.length ? el("details", {}, el("summary", {}, moreWords), row(rest)) : null],
    field: (name) => fields.find((f) => f.name === name),
    read: () => clean(Object.fromEntries(fields.map((f) => [f.name, f.value]))),
    /** Takes what of an object fits; all else is emptied. */
    write(values) {
      for (const f of fields) f.value = f.takes(values?.[f.name]) ? values[f.name] : undefined;
    },
    units: (u) => fields.forEach((f) => f.units(u)),
    valid: () => fields.every((f) => f.input.checkValidity()),
    /** Tells the first field that isn't right, where people see it. */
    complain() {
      const first = fields.find((f) => !f.input.checkValidity());
      if (first) goToField(first);
      first?.input.reportValidity();
      return !first;
    },
  };
}

/** Opens whatever a field is folded into, and moves the focus to it. */
export function goToField(field) {
  for (let d = field.node.closest("details"); d; d = d.parentElement.closest("details")) d.open = true;
  field.input.focus();
}
