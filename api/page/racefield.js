// How the race will go: who rides it, for what points, as told what.

import { clean } from "./course.js";
import { el } from "./dom.js";
import { checkField, follow, more, numberField, row, selectField, textField } from "./racefields.js";
import { lacksCapability } from "./racelaunch.js";
import { showOdds } from "./raceodds.js";
import { orderRows } from "./raceorders.js";
import { everyKind, placeBoxes } from "./raceplaces.js";

export function fieldQuestion(store) {
  const ours = checkField({ id: "field-ours", words: "The riders above race", checked: true });
  const drawn = drawnFields(store);
  const contests = contestFields(store);
  const rules = ruleFields(store);
  const orders = orderRows(store);
  const duel = [0, 1].map((i) => selectField({ id: `duel-${i}`, words: i ? "against" : "Alone on the road", pointer: "#/duel/riders" }));
  follow(store, ["riders"], () => {
    const names = (store.get("riders") ?? []).map((r, i) => r.name || `Rider ${i + 1}`).map((n) => [n, n]);
    duel.forEach((d, i) => d.set([["", i ? "the lightest" : "the heaviest"], ...names]));
  });
  const racing = () => (ours.get() ? (store.get("riders") ?? []) : []);
  return {
    path: "scenarios", title: "How will the race go?", button: "Race it", streamed: true,
    needs: ["riders", "setups", "conditions", "surfaces", "effort"], without: ["shelter"], // it comes from the others
    intro: "The field races over the course many times, each with a day's form and luck of its own; told is what the runs come to, and how sure that is.",
    fields: [
      el("fieldset", {}, el("legend", {}, "The field"), row(ours, drawn.count, drawn.mean, drawn.sd)),
      contests.node,
      more("More about riders, orders and luck", el("fieldset", {}, el("legend", {}, "Who is drawn"), row(...drawn.others)), orders.node,
        el("fieldset", {}, el("legend", {}, "Heavy against light"), row(...duel)), rules.node),
    ],
    lacks: () => (racing().length ? lacksCapability(racing()) : null),
    read() {
      const pair = duel.map((d) => d.get());
      return clean({
        riders: orders.apply(racing()), drawn: drawn.get(), contests: contests.get(), rules: rules.get(),
        duel: pair[0] && pair[1] ? { riders: pair } : undefined,
      });
    },
    show: (answer, u) => showOdds(answer, u),
  };
}

/** The riders that are drawn. */
function drawnFields(store) {
  const of = (name) => `#/drawn/*/${name}`;
  const count = numberField(store, { id: "drawn-count", words: "Others, drawn", min: 0, max: 200, step: 1, value: 20, pointer: of("count") });
  const mean = numberField(store, { id: "drawn-mean", words: "Their critical power", kind: "W/kg", min: 1, max: 8, value: 3.75, pointer: of("w_per_kg/mean") });
  const sd = numberField(store, { id: "drawn-sd", words: "± spread", kind: "W/kg", min: 0, max: 2, value: 0.225, pointer: of("w_per_kg/sd"), hint: "standard deviation" });
  const massMean = numberField(store, { id: "drawn-mass", words: "Their mass", kind: "mass", min: 35, max: 150, value: 72, pointer: of("mass_kg/mean") });
  const massSd = numberField(store, { id: "drawn-mass-sd", words: "± spread", kind: "mass", min: 0, max: 40, value: 8, pointer: of("mass_kg/sd") });
  const team = textField({ id: "drawn-team", words: "Their team", pointer: of("team") });
  return {
    count, mean, sd, others: [massMean, massSd, team],
    get() {
      if (!count.get()) return undefined;
      return [clean({ name: "Bunch", count: count.get(), team: team.get(), w_per_kg: spread(mean, sd), mass_kg: spread(massMean, massSd) })];
    },
  };
}

/** A distribution, where both its numbers are given. */
function spread(mean, sd) {
  return mean.get() === undefined || sd.get() === undefined ? undefined : { mean: mean.get(), sd: sd.get() };
}

/** The points that are raced for: sprint lines, climbs, the finish. */
function contestFields(store) {
  const points = (id, value) => textField({ id, words: "Points for the first, the second, …", value, pattern: "\\s*[0-9]+(\\.[0-9]+)?(\\s*[,; ]\\s*[0-9]+(\\.[0-9]+)?)*\\s*", hint: "numbers, with commas between them" });
  const finish = checkField({ id: "points-finish", words: "The finish counts", checked: true });
  const by = selectField({ id: "points-by", words: "Climbs go by", choices: [["crossing", "order at the top"], ["section_time", "time from foot to top"]] });
  const groups = [
    { name: "Sprints", boxes: placeBoxes(store, { id: "points-line", legend: "Lines with points", kinds: ["sprint", "gate", "summit", "other"], ticked: (k) => k === "sprint" }), points: points("points-lines", "5, 3, 2, 1"), by: () => "crossing" },
    { name: "Climbs", boxes: placeBoxes(store, { id: "points-climb", legend: "Climbs with points", kinds: ["climb"], ticked: () => false }), points: points("points-climbs", "5, 3, 2, 1"), by: () => by.get() },
  ];
  const last = points("points-last", "10, 7, 5, 3, 2, 1");
  for (const g of groups) g.boxes.node.append(g.name === "Climbs" ? row(g.points, by) : row(g.points));
  const numbers = (field) => (field.get() ?? "").split(/[,; ]+/).filter(Boolean).map(Number);
  return {
    node: more("Points", groups.map((g) => g.boxes.node), el("fieldset", {}, el("legend", {}, "Finish"), row(finish, last))),
    get() {
      const contests = groups.map((g) => ({ name: g.name, scores: g.boxes.get().map((at) => ({ by: g.by(), at, points: numbers(g.points) })) }));
      if (finish.get()) contests.push({ name: "Finish", scores: [{ by: "finish", points: numbers(last) }] });
      return contests.filter((c) => c.scores.length && c.scores[0].points.length);
    },
  };
}

/** What else decides: luck, and how often it is tried. */
function ruleFields(store) {
  const of = (name, words, rest) => [name, numberField(store, { id: `rule-${name.replaceAll("_", "-")}`, words, pointer: `#/rules/${name}`, ...rest })];
  const fields = Object.fromEntries([
    of("runs", "Runs", { min: 1, max: 2000, step: 1, value: 100 }),
    of("seed", "Seed of the luck", { min: 0, max: 9007199254740991, step: 1, value: 1, hint: "the same seed, the same numbers" }),
    of("form_pct", "Day's form ±", { kind: "% ", min: 0, max: 20, hint: "left empty: 2 %" }),
    of("mishaps_per_h", "Mishaps an hour", { min: 0, max: 10, hint: "of each rider; left empty: none" }),
    of("abreast", "Riders abreast", { min: 1, max: 10, hint: "where the pace is easy; left empty: 4" }),
  ]);
  const echelons = checkField({ id: "rule-echelons", words: "Crosswinds split the bunch", pointer: "#/rules/echelons" });
  const alone = checkField({ id: "rule-alone", words: "Nobody shelters, as in a time trial", pointer: "#/rules/shelter" });
  return {
    node: el("fieldset", {}, el("legend", {}, "Luck and rules"), row(...Object.values(fields), echelons, alone)),
    get: () => clean({ ...Object.fromEntries(Object.entries(fields).map(([name, f]) => [name, f.get()])), echelons: echelons.get() || undefined, shelter: alone.get() ? false : undefined }),
  };
}
