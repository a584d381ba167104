// Predicted times: riders × set-ups over the course.

import { askedOf } from "./asked.js";
import { askAbout } from "./course.js";
import { el, fill, table } from "./dom.js";
import { mountPlans } from "./plans.js";
import { askedWords, assumptionsOf, balanceWords, bandWords, cautionsOf, foodOf, makeChoice, rideName, splitsTable, whyNot } from "./rides.js";
import { certainty, clock, unitsOf, watts, wattsPerKilogram } from "./wording.js";
import { mostDrawn, ofOne, ridePicture } from "./ridepicture.js";
import { makeWork } from "./work.js";

/** Fills the section; riders is what mountRiders returned. */
export function mountTimes(section, store, riders) {
  const work = makeWork(riders.point);
  const matrix = el("div");
  const below = el("div");
  const picture = ridePicture(store, "/v1/predictions");
  const choice = makeChoice("ride", "At each place, the times of", store, (ride, u, course) => [splitsTable(ride, u, course), foodOf(ride, u)], draw);
  const plans = el("div", { id: "plans" });
  fill(section,
    el("h2", { id: "times-title" }, "Times and plans"),
    el("p", { class: "no-print" }, el("button", { type: "button", class: "main", id: "predict", onclick: predict }, "Predict the times")),
    work.node, matrix, picture.node, choice.node, below, plans);
  mountPlans(plans, store, riders);

  async function predict() {
    if (!riders.check()) return;
    const request = { ...askedOf(store), effort: store.get("effort") };
    const n = request.riders.length * (request.setups?.length ?? 1);
    const answer = await work.run(`Riding the course ${n === 1 ? "once" : `${n} times`} …`, (signal) => askAbout(store, "/v1/predictions", request, { signal }), `Predicted: ${n === 1 ? "one ride" : `${n} rides`}.`);
    if (!answer) return;
    store.set({ predictions: { request, answer } });
    for (const p of answer.predictions) if (p.problem) riders.point(p.problem, false);
  }

  /** Draws all rides, or where they are too many the chosen one. */
  function draw(ride, anew) {
    const { request, answer } = store.get("predictions") ?? {};
    const all = answer && answer.predictions.length <= mostDrawn;
    if (!ride) picture.draw(null);
    else if (anew || !all) picture.draw(all ? request : ofOne(request, ride));
  }

  function show({ predictions, units }) {
    const answer = predictions?.answer;
    choice.take(answer?.predictions ?? []);
    fill(matrix, answer ? [askedWords(predictions.request, unitsOf(units)), ridesTable(answer.predictions, unitsOf(units))] : null);
    fill(below, answer ? [assumptionsOf(answer.assumptions, answer.predictions, unitsOf(units)), cautionsOf(answer.cautions)] : null);
  }
  store.on(["predictions", "units"], show);
  store.on(["predictions"], () => draw(choice.chosen(), true));
  store.on(["course"], ({ course }) => {
    section.hidden = !course;
    work.stop();
    work.say("");
  });
  store.on(["riders", "setups", "conditions", "effort"], ({ predictions }) => predictions && work.say("What follows is of what was asked before; predict again to have it anew."));
}

function ridesTable(rides, u) {
  const coverage = rides.find((r) => r.band)?.band.coverage_pct;
  const row = (r) => [rideName(r, rides), ...(r.problem ? ["–", "", "", "", "", "", whyNot(r.problem, u)] : [
    clock(r.time_s), bandWords(r, u), u.speed(r.mean_speed_mps), watts(r.mean_power_w), wattsPerKilogram(r.w_per_kg), balanceWords(r, u), verdict(r),
  ])];
  return table(`Predicted times${coverage === undefined ? "" : `; ${certainty(coverage)} of them lie within the band, by what is in doubt of the inputs`}`,
    ["Rider", ["Time", "n"], ["Band", "n"], ["Speed", "n"], ["Power", "n"], ["Per mass", "n"], ["Lowest balance of W′", "t"], ["Can it be held?", "t"]], rides.map(row));
}

function verdict(ride) {
  if (!ride.feasible) return "no: it asks for more than the rider has";
  return ride.w_balance_min_j === undefined ? "not known" : "yes";
}
