// Plans of power: what rides the course in the least time within what each rider has.

import { askedOf } from "./asked.js";
import { askAbout, clean } from "./course.js";
import { el, fill, table } from "./dom.js";
import { makeGroup } from "./fields.js";
import { askedWords, assumptionsOf, balanceWords, bandWords, cautionsOf, foodOf, makeChoice, rideName, splitsTable, whyNot } from "./rides.js";
import { ofOne, ridePicture } from "./ridepicture.js";
import { clock, kilojoules, seconds, unitsOf, watts } from "./wording.js";
import { makeWork } from "./work.js";

const planFields = [
  ["end_reserve_j", "W′ left at the finish", "kJ", 0, 100000],
  ["max_power_w", "At most", "W", 10, 4000],
  ["min_power_w", "At least", "W", 0, 1000, { more: true }],
  ["change_w_per_s", "Change of power", "W/s", 0.1, 10000, { more: true, hint: "at most" }],
  ["mean_power_w", "Mean power", "W", 10, 1000, { more: true, hint: "at most, in place of critical power and W′" }],
  ["against", "Held against", [["", "constant power"], ["true", "the effort above too"]], 0, 0, { more: true }],
];

/** Fills a part of the section of times. */
export function mountPlans(node, store, riders) {
  const bounds = makeGroup("plan", planFields, () => {}, "More about the plan");
  const work = makeWork((problem) => {
    riders.point(problem);
    for (const e of problem.errors ?? []) bounds.field(e.pointer?.match(/^#\/(?:bounds\/)?(\w+)$/)?.[1])?.fault(e.detail);
  });
  const matrix = el("div");
  const below = el("div");
  const picture = ridePicture(store, "/v1/plans");
  const choice = makeChoice("plan", "In full, the plan of", store, (plan, u, course) => [stepsTable(plan, u), splitsTable(plan, u, course), foodOf(plan, u)], draw);
  const form = el("form", { class: "no-print", onsubmit: plan },
    el("fieldset", {}, el("legend", {}, "Within what the riders have"), bounds.nodes),
    el("p", {}, el("button", { class: "main", id: "plan-power" }, "Plan the power")));
  fill(node,
    el("h3", {}, "Plans"),
    el("p", { class: "soft no-print" }, "Where to spend and where to save, so that the course takes the least time and W′ lasts to the finish. It needs each rider's critical power and W′."),
    form, work.node, matrix, picture.node, choice.node, below);

  async function plan(event) {
    event.preventDefault();
    if (!riders.check()) return;
    const { end_reserve_j, against, ...given } = bounds.read();
    const effort = store.get("effort");
    const request = { ...askedOf(store), ...clean({
      end_reserve_j, bounds: Object.keys(given).length ? given : null, given_effort: against && effort.kind !== "best" ? effort : null,
    }) };
    const n = request.riders.length * (request.setups?.length ?? 1);
    const answer = await work.run(`Planning ${n === 1 ? "one ride" : `${n} rides`}; each takes some seconds …`, (signal) => askAbout(store, "/v1/plans", request, { signal }), `Planned: ${n === 1 ? "one ride" : `${n} rides`}.`);
    if (!answer) return;
    store.set({ plans: { request, answer } });
    for (const p of answer.plans) if (p.problem) riders.point(p.problem, false);
  }

  /** Draws the chosen plan, which is made once more for it. */
  function draw(chosen) {
    picture.draw(chosen ? ofOne(store.get("plans").request, chosen) : null);
  }

  store.on(["plans", "units"], ({ plans, units }) => {
    const answer = plans?.answer;
    const u = unitsOf(units);
    choice.take(answer?.plans ?? []);
    fill(matrix, answer ? [askedWords(plans.request, u), plansTable(answer.plans, u)] : null);
    fill(below, answer ? [assumptionsOf(answer.assumptions, answer.plans, u), cautionsOf(answer.cautions)] : null);
  });
  store.on(["plans"], () => draw(choice.chosen()));
  store.on(["units"], ({ units }) => bounds.units(unitsOf(units)));
  bounds.units(unitsOf(store.get("units")));
  store.on(["course"], () => {
    work.stop();
    work.say("");
  });
  store.on(["riders", "setups", "conditions"], ({ plans }) => plans && work.say("What follows is of what was asked before; plan again to have it anew."));
}

function plansTable(plans, u) {
  const given = plans.some((p) => p.given);
  const row = (p) => [rideName(p, plans), ...(p.problem ? ["–", "", "", "", "", whyNot(p.problem, u), ...(given ? [""] : [])] : [
    clock(p.time_s), bandWords(p, u), p.steps_time_s === undefined ? "" : clock(p.steps_time_s),
    p.constant_power_w === undefined ? "" : `${watts(p.constant_power_w)}: ${clock(p.constant_power_time_s)}`,
    p.gain_s === undefined ? "" : seconds(p.gain_s), balanceWords(p, u), ...(given ? [givenWords(p)] : []),
  ])];
  return table("Planned times, against the best constant power within the same limits",
    ["Rider", ["Planned", "n"], ["Band", "n"], ["By its steps", "n"], ["Constant power", "n"], ["Gain", "n"], ["Lowest balance of W′", "t"], ...(given ? [["Against the effort above", "t"]] : [])], plans.map(row));
}

function givenWords({ given, gain_over_given_s: gain }) {
  if (!given || given.problem) return given?.problem?.title ?? "";
  const words = gain === undefined ? clock(given.time_s) : `${clock(given.time_s)}: the plan ${gain < 0 ? "loses" : "gains"} ${seconds(gain)}`;
  return given.feasible ? words : `${words}, but that asks for more than the rider has`;
}

/** The plan as a rider can keep to it. */
function stepsTable(plan, u) {
  const last = plan.steps_w_balance_end_j === undefined ? "" : `; ${kilojoules(plan.steps_w_balance_end_j)} of W′ are left at the finish`;
  return table(`Steps that ${plan.rider} can keep to${last}`,
    [[u.long, "n"], ["Power", "n"], ["Time", "n"], ["Where", "t"], ["Why", "t"]],
    plan.steps.map((s) => [`${u.bare(s.start_m)} – ${u.bare(s.end_m)}`, watts(s.power_w), clock(s.time_s), s.of, s.reason]));
}
