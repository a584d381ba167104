// Critical power, W′ and maximal power from a rider's best efforts.

import { el, fill, problemBox } from "./dom.js";
import { makeGroup } from "./fields.js";
import { call, calledOff } from "./service.js";
import { kilojoules, unitsOf, watts } from "./wording.js";

const effortFields = [
  ["duration_s", "Held for", "clock", 1, 86400],
  ["power_w", "Mean power", "W", 1, 4000],
];

/** How the service's fits are called here. */
const fits = {
  two_parameter_time: "the two-parameter model, fitted to the durations", work_time_line: "a line of work over time",
  inverse_time_line: "a line of power over 1/time", three_parameter_time: "the three-parameter model, fitted to the durations",
  three_parameter_power: "the three-parameter model, fitted to the powers",
};

/** A small form whose answer is given to take(fitted), the contract's rider fields. */
export function fitForm(prefix, store, take) {
  const efforts = [];
  const list = el("div");
  const answer = el("div", { "aria-live": "polite" });
  let running = null;

  function grow() {
    const group = makeGroup(`${prefix}-effort-${efforts.length + 1}`, effortFields, () => {});
    group.units(unitsOf("metric")); // watts, in either
    efforts.push(group);
    list.append(el("fieldset", {}, el("legend", {}, `Effort ${efforts.length}`), group.nodes));
    return group;
  }
  for (let i = 0; i < 3; i++) grow();

  async function fit(event) {
    event.preventDefault();
    running?.abort();
    const { signal } = (running = new AbortController());
    try {
      const given = efforts.map((g) => g.read()).filter((e) => Object.keys(e).length);
      const found = await call("/v1/riders/fit", { json: { efforts: given }, signal });
      take(found.rider);
      fill(answer, told(found));
    } catch (error) {
      if (!calledOff(error)) fill(answer, problemBox(error));
    }
  }

  return el("details", { class: "no-print" },
    el("summary", {}, "Work critical power out from best efforts"),
    el("p", { class: "soft" }, "All-out efforts of some 2 to 15 minutes, two at least; a sprint too gives the maximal power."),
    el("form", { onsubmit: fit }, list,
      el("p", { class: "row" }, el("button", { type: "button", onclick: () => grow().fields[0].input.focus() }, "Add an effort"), el("button", {}, "Work it out"))),
    answer);
}

/** The values with their errors, why this fit, and what to be wary of. */
function told(found) {
  const best = found.fits.find((f) => f.kind === found.best_fit);
  const give = (v, error, write) => (error === undefined ? `${write(v)} (error unknown)` : `${write(v)} ± ${write(error)}`);
  return [
    el("p", { class: "told" }, `Filled in: critical power ${give(best.critical_power_w, best.critical_power_error_w, watts)}, W′ ${give(best.w_prime_j, best.w_prime_error_j, kilojoules)}`,
      best.max_power_w === undefined ? "" : `, maximal power ${give(best.max_power_w, best.max_power_error_w, watts)}`,
      `, by ${fits[best.kind]}; ± is one standard error. ${found.reason}`),
    el("ul", {}, found.warnings.map((w) => el("li", {}, w.kind && w.kind !== found.best_fit ? `Another fit, ${fits[w.kind]}: ` : "", w.detail))),
    el("ul", { class: "caution" }, found.cautions.map((c) => el("li", {}, c))),
  ];
}
