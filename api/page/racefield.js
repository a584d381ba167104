// How the race will go: who rides it, for what points, as told what.

import { clean } from "./course.js";
import { el } from "./dom.js";
import { checkField, follow, group, more, row, selectField } from "./racefields.js";
import { lacksCapability } from "./racelaunch.js";
import { showOdds } from "./raceodds.js";
import { orderRows } from "./raceorders.js";
import { placeBoxes } from "./raceplaces.js";

export function fieldQuestion(store) {
  const ours = checkField("field-ours", "The riders above race", true);
  const drawn = drawnFields(store);
  const contests = contestFields(store);
  const rules = ruleFields(store);
  const orders = orderRows(store);
  const duel = [selectField("duel-heavy", "One rider"), selectField("duel-light", "against")];
  follow(store, ["riders"], () => {
    const names = (store.get("riders") ?? []).map((r, i) => r.name || `Rider ${i + 1}`).map((n) => [n, n]);
    duel.forEach((d, i) => d.set([["", i ? "the lightest" : "the heaviest"], ...names]));
  });
  const racing = () => (ours.get() ? (store.get("riders") ?? []) : []);
  return {
    path: "scenarios", title: "How will the race go?", button: "Race it", streamed: true,
    intro: "The field races over the course many times, each with a day's form and luck of its own; told is what the runs come to, and how sure that is.",
    needs: ["riders", "setups", "conditions", "effort"], sends: ["setups", "conditions", "effort"], needsRiders: ours.get,
    without: ["shelter"], // it comes from the others
    fields: [
      el("fieldset", {}, el("legend", {}, "The field"), row(ours), drawn.group.nodes), contests.node,
      more("Orders, luck and rules", orders.node, el("fieldset", {}, el("legend", {}, "Heavy against light, each alone"), row(...duel)), rules.node),
    ],
    groups: () => [drawn.group, rules.group],
    find: ([list, ...rest]) => (list === "rules" ? rules.group.field(rest[0]) : list === "drawn" ? drawn.group.field(rest.slice(1).join("-")) : undefined),
    lacks: () => lacksCapability(racing()),
    read() {
      const pair = duel.map((d) => d.get());
      return clean({
        riders: orders.apply(racing()), drawn: drawn.get(), contests: contests.get(), rules: rules.get(), duel: pair[0] && pair[1] && { riders: pair },
      });
    },
    rides: (answer) => answer.riders,
    show: (answer, u) => showOdds(answer, u),
  };
}

/** The riders that are drawn. */
function drawnFields(store) {
  const fields = group(store, "drawn", [
    ["count", "Others, drawn", "", 0, 200, { whole: true }],
    ["w_per_kg-mean", "Their critical power", "W/kg", 1, 8],
    ["w_per_kg-sd", "and its spread", "W/kg", 0, 2, { hint: "standard deviation" }],
    ["effort-of_critical_power", "They ride, of that", "share", 0, 5, { more: true, hint: "where nobody presses them" }],
    ["mass_kg-mean", "Their mass", "mass", 35, 150, { more: true }],
    ["mass_kg-sd", "and its spread", "mass", 0, 40, { more: true }],
    ["team", "Their team", "text", 0, 0, { more: true }],
  ], "More about the others", { count: 20, "w_per_kg-mean": 3.75, "w_per_kg-sd": 0.225, "effort-of_critical_power": 0.95 });
  const spread = (own, name) => (own[`${name}-mean`] === undefined ? undefined : { mean: own[`${name}-mean`], sd: own[`${name}-sd`] ?? 0 });
  return {
    group: fields,
    get() {
      const own = fields.read();
      if (!own.count) return undefined;
      const share = own["effort-of_critical_power"];
      return [clean({
        name: "Bunch", count: own.count, team: own.team, w_per_kg: spread(own, "w_per_kg"), mass_kg: spread(own, "mass_kg"),
        effort: share === undefined ? undefined : { kind: "fraction", of_critical_power: share },
      })];
    },
  };
}

/** The points that are raced for: at sprint lines, on climbs, at the finish. */
function contestFields(store) {
  const by = selectField("points-by", "They go by", [["crossing", "the order at the top"], ["section_time", "the time from foot to top"]]);
  const finish = checkField("points-finish", "The finish counts", true);
  const boxes = {
    Sprints: placeBoxes(store, { id: "points-line", legend: "Lines with points", kinds: ["sprint", "gate", "summit", "other"], ticked: (k) => k === "sprint" }),
    Climbs: placeBoxes(store, { id: "points-climb", legend: "Climbs with points", kinds: ["climb"], ticked: () => false }),
    Finish: { node: el("fieldset", {}, el("legend", {}, "Finish"), row(finish)), get: () => (finish.get() ? [undefined] : []) },
  };
  const words = "Points for the first, the second, …";
  const points = group(store, "points", [["Sprints", words, "text"], ["Climbs", words, "text"], ["Finish", words, "text"]], "", { Sprints: "5, 3, 2, 1", Climbs: "5, 3, 2, 1", Finish: "10, 7, 5, 3, 2, 1" });
  for (const f of points.fields) {
    Object.assign(f.input, { pattern: "[ ]*[0-9.]+([ ,;]+[0-9.]+)*[ ]*", title: "Numbers with commas between them" });
    boxes[f.name].node.append(row(f, ...(f.name === "Climbs" ? [by] : [])));
  }
  const ways = { Sprints: () => "crossing", Climbs: by.get, Finish: () => "finish" };
  return {
    node: more("Points", Object.values(boxes).map((b) => b.node)),
    get: () => points.fields.map(({ name, value = "" }) => ({
      name, scores: boxes[name].get().map((at) => clean({ by: ways[name](), at, points: value.split(/[ ,;]+/).filter(Boolean).map(Number) })),
    })).filter((c) => c.scores[0]?.points.length),
  };
}

/** What else decides: luck, and how often it is tried. */
function ruleFields(store) {
  const fields = group(store, "rule", [
    ["runs", "Runs", "", 1, 2000, { whole: true }],
    ["seed", "Seed of the luck", "", 0, 9007199254740991, { whole: true, hint: "the same seed, the same numbers" }],
    ["form_pct", "Day's form, ±", "%", 0, 20, { hint: "left empty: 2" }],
    ["mishaps_per_h", "Mishaps an hour", "", 0, 10, { hint: "of each rider; left empty: none" }],
    ["abreast", "Riders abreast", "", 1, 10, { hint: "where the pace is easy; left empty: 4" }],
  ], "", { runs: 100, seed: 1 });
  const echelons = checkField("rule-echelons", "Crosswinds split the bunch");
  const alone = checkField("rule-alone", "Nobody shelters, as in a time trial");
  return {
    node: el("fieldset", {}, el("legend", {}, "Luck and rules"), fields.nodes, row(echelons, alone)), group: fields,
    get: () => clean({ ...fields.read(), echelons: echelons.get() || undefined, shelter: alone.get() ? false : undefined }),
  };
}
