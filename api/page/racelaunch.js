// When to launch a sprint.

import { clean } from "./course.js";
import { el, table } from "./dom.js";
import { more, numberField, row } from "./racefields.js";
import { lineKinds, placeBoxes } from "./raceplaces.js";
import { gradient, seconds, watts } from "./wording.js";

export function launchQuestion(store) {
  const at = placeBoxes(store, { id: "line", legend: "Lines", kinds: lineKinds, ticked: (kind) => kind === "sprint" || kind === "finish", pointer: "#/lines" });
  const fields = {
    position: numberField(store, { id: "launch-position", words: "Place in the line of riders", min: 1, max: 20, step: 1, value: 2, pointer: "#/lines/*/position", hint: "1 is its head" }),
    approach_speed_mps: numberField(store, { id: "launch-speed", words: "Its speed before the sprint", kind: "speed", min: 3, max: 25, pointer: "#/lines/*/approach_speed_mps", hint: "left empty: as fast as all can hold" }),
    approach_s: numberField(store, { id: "launch-seconds", words: "The approach takes", kind: "s", min: 5, max: 60, pointer: "#/lines/*/approach_s", hint: "left empty: 20 s" }),
    approach_m: numberField(store, { id: "launch-metres", words: "or is so long", kind: "short", min: 50, max: 1000, pointer: "#/lines/*/approach_m" }),
    demand: numberField(store, { id: "launch-demand", words: "What its speed asks", kind: "percent", min: 0.1, max: 1, pointer: "#/lines/*/demand", hint: "of what is between critical and maximal power, where no speed is given; left empty: 80 %" }),
    shelter: numberField(store, { id: "launch-shelter", words: "Drag at that place", kind: "percent", min: 0, max: 1, pointer: "#/lines/*/shelter", hint: "of the drag alone; left empty: that of the place" }),
  };
  const fresh = numberField(store, { id: "launch-fresh", words: "W′ left at the approach", kind: "percent", min: 0, max: 1, pointer: "#/lines/*/w_balances_j", hint: "left empty: all of it" });
  const needs = ["riders", "setups", "conditions", "surfaces"];
  return {
    path: "launches", title: "When to launch?", button: "Find the launch", needs,
    without: ["shelter", "start_speed_mps", "coast_above_mps"], // a line has its own
    intro: "For each rider the place to leave the wheel at, so as to be at the line soonest, and what it costs to do so elsewhere.",
    fields: [
      at.node, row(fields.position, fields.approach_speed_mps),
      more("More about the approach", row(fields.approach_s, fields.approach_m, fields.demand, fields.shelter, fresh)),
    ],
    lacks: () => lacksCapability(store.get("riders")),
    read() {
      const own = Object.fromEntries(Object.entries(fields).map(([name, field]) => [name, field.get()]));
      if (fresh.get() !== undefined) own.w_balances_j = store.get("riders").map((r) => r.w_prime_j * fresh.get());
      return { lines: at.get().map((place) => clean({ at: place, ...own })) };
    },
    show: (answer, u) => [
      el("p", { class: "told" }, answer.recommendation),
      warnings(answer.warnings),
      launchTable(answer, u),
      more("From other places in the line, and at other gradients", answer.launches.filter((l) => !l.problem).map((l) => otherwise(l, answer, u))),
    ],
  };
}

/** What riders lack whose W′ is to be reckoned with. */
export function lacksCapability(riders) {
  if (!riders?.length) return "This needs a rider with critical power and W′.";
  const without = riders.findIndex((r) => r.critical_power_w === undefined || r.w_prime_j === undefined);
  return without < 0 ? null : `${riders[without].name || `Rider ${without + 1}`} lacks critical power or W′.`;
}

const warnings = (list) => (list.length ? el("ul", {}, list.map((w) => el("li", {}, w.detail))) : null);

function passWords(launch) {
  const [first, ...others] = launch.passes.map((p) => p.place.name);
  return others.length ? `${first} and ${others.length} more alike` : first;
}

/** The rider, with the set-up where there are several. */
function who(launch, answer) {
  const several = answer.launches.some((l) => l.setup_index > 0);
  return several ? `${launch.rider} on ${launch.setup}` : launch.rider;
}

function launchTable(answer, u) {
  return table("Where to launch", ["Line", "Rider", ["Before the line", "n"], ["From – to", "n"], ["Speed there", "n"], ["At the line", "n"], ["Ahead of the wheel", "n"], "To know"],
    answer.launches.map((l) => {
      if (l.problem) return [passWords(l), who(l, answer), l.problem.detail, "", "", "", "", ""];
      const how = l.launch_before_m === 0 ? "stay on the wheel" : `${u.length(l.launch_before_m)}, ${seconds(l.launch_before_s)}`;
      return [passWords(l), who(l, answer), how, `${u.length(l.earliest_before_m)} – ${u.length(l.latest_before_m)}`,
        `${u.speed(l.launch_speed_mps)}, ${watts(l.launch_power_w)}`, u.speed(l.line_speed_mps), `${l.ahead_s < 0 ? "−" : ""}${u.fine(Math.abs(l.ahead_m))}`,
        (l.warnings ?? []).map((w) => w.detail).join(" ")];
    }));
}

function otherwise(l, answer, u) {
  const name = `${who(l, answer)}, ${passWords(l)}`;
  return [
    table(`${name}: by place in the line of riders`, [["Place", "n"], ["Launch before the line", "n"], ["At the line", "n"]],
      l.positions.map((p) => [String(p.position), u.length(p.launch_before_m), p.position === l.approach.position ? "as told" : `${seconds(p.gain_s)} ${p.gain_s < 0 ? "later" : "sooner"}`])),
    table(`${name}: were the approach of another gradient`, [["Gradient", "n"], ["Launch before the line", "n"], ["Speed at the line", "n"]],
      l.gradients.map((g) => [gradient(g.gradient_pct), `${u.length(g.launch_before_m)}, ${seconds(g.launch_before_s)}`, u.speed(g.line_speed_mps)])),
  ];
}
