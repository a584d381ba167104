// When to launch a sprint.

import { el, table } from "./dom.js";
import { group, more } from "./racefields.js";
import { lineKinds, placeBoxes } from "./raceplaces.js";
import { rideName } from "./rides.js";
import { gradient, seconds, watts } from "./wording.js";

const approach = [
  ["position", "Place in the line of riders", "", 1, 20, { whole: true, hint: "1 is its head" }],
  ["approach_speed_mps", "Its speed before the sprint", "speed", 3, 25, { hint: "left empty: as fast as all can hold" }],
  ["approach_s", "The approach takes", "s", 5, 60, { more: true, hint: "left empty: 20 s" }],
  ["approach_m", "or is so long", "short", 50, 1000, { more: true }],
  ["demand", "What its speed asks", "share", 0.1, 1, { more: true, hint: "of what lies between critical and maximal power, where no speed is given; left empty: 80 %" }],
  ["shelter", "Drag at that place", "share", 0, 1, { more: true, hint: "of the drag alone; left empty: that of the place" }],
  ["fresh", "W′ left at the approach", "share", 0, 1, { more: true, hint: "left empty: all of it" }],
];

export function launchQuestion(store) {
  const at = placeBoxes(store, { id: "line", legend: "Lines", kinds: lineKinds, ticked: (kind) => kind === "sprint" || kind === "finish" });
  const fields = group(store, "launch", approach, "More about the approach", { position: 2 });
  return {
    path: "launches", title: "When to launch?", button: "Find the launch",
    intro: "For each rider the place to leave the wheel at, so as to be at the line soonest, and what it costs to do so elsewhere.",
    needs: ["riders", "setups", "conditions"], needsRiders: () => true,
    without: ["shelter", "start_speed_mps", "coast_above_mps"], // a line has its own
    fields: [at.node, fields.nodes],
    groups: () => [fields],
    find: ([list, , name]) => (list === "lines" ? fields.field(name === "w_balances_j" ? "fresh" : name) : undefined),
    lacks: () => lacksCapability(store.get("riders")) ?? (at.get().length ? null : "Tick a line."),
    read() {
      const { fresh, ...own } = fields.read();
      if (fresh !== undefined) own.w_balances_j = store.get("riders").map((r) => r.w_prime_j * fresh);
      return { lines: at.get().map((place) => ({ at: place, ...own })) };
    },
    rides: (answer) => answer.launches,
    show: (answer, u) => [
      el("p", { class: "told" }, answer.recommendation),
      warnings(answer.warnings),
      launchTable(answer, u),
      more("From other places in the line, and at other gradients", answer.launches.filter((l) => !l.problem).map((l) => otherwise(l, answer, u))),
    ],
  };
}

/** What riders lack whose W′ is to be reckoned with, or null. */
export function lacksCapability(riders) {
  const without = (riders ?? []).findIndex((r) => r.critical_power_w === undefined || r.w_prime_j === undefined);
  return without < 0 ? null : `${riders[without].name || `Rider ${without + 1}`} lacks critical power or W′.`;
}

const warnings = (list) => (list.length ? el("ul", {}, list.map((w) => el("li", {}, w.detail))) : null);

function passWords(launch) {
  const [first, ...others] = launch.passes.map((p) => p.place.name);
  return others.length ? `${first} and ${others.length} more alike` : first;
}

function launchTable(answer, u) {
  return table("Where to launch", ["Line", "Rider", ["Before the line", "n"], ["From – to", "n"], ["Speed there", "n"], ["At the line", "n"], ["Ahead by", "n"], ["To know", "t"]],
    answer.launches.map((l) => {
      if (l.problem) return [passWords(l), rideName(l, answer.launches), l.problem.detail, "", "", "", "", ""];
      const how = l.launch_before_m === 0 ? "stay on the wheel" : `${u.length(l.launch_before_m)}, ${seconds(l.launch_before_s)}`;
      return [passWords(l), rideName(l, answer.launches), how, `${u.length(l.earliest_before_m)} – ${u.length(l.latest_before_m)}`,
        `${u.speed(l.launch_speed_mps)}, ${watts(l.launch_power_w)}`, u.speed(l.line_speed_mps), `${l.ahead_s < 0 ? "−" : ""}${u.fine(Math.abs(l.ahead_m))}`,
        (l.warnings ?? []).map((w) => w.detail).join(" ")];
    }));
}

function otherwise(l, answer, u) {
  const name = `${rideName(l, answer.launches)}, ${passWords(l)}`;
  return [
    table(`${name}: by place in the line of riders`, [["Place", "n"], ["Launch before the line", "n"], ["At the line", "n"]],
      l.positions.map((p) => [String(p.position), u.length(p.launch_before_m), p.position === l.approach.position ? "as told" : `${seconds(p.gain_s)} ${p.gain_s < 0 ? "later" : "sooner"}`])),
    table(`${name}: were the approach of another gradient`, [["Gradient", "n"], ["Launch before the line", "n"], ["Speed at the line", "n"]],
      l.gradients.map((g) => [gradient(g.gradient_pct), `${u.length(g.launch_before_m)}, ${seconds(g.launch_before_s)}`, u.speed(g.line_speed_mps)])),
  ];
}
