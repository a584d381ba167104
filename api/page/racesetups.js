// Which set-up for which ambition, and whether a change on the way pays.

import { el, table } from "./dom.js";
import { clean } from "./course.js";
import { checkField, follow, group, more, row, selectField } from "./racefields.js";
import { goalKinds, placeBoxes, placeChoices } from "./raceplaces.js";
import { clock, gradient, percent, seconds, watts } from "./wording.js";

export function setupQuestion(store) {
  const ambitions = placeBoxes(store, {
    id: "ambition", legend: "To be early at a line, or fast over a climb; the finish is always among them",
    kinds: goalKinds, ticked: (kind) => kind === "sprint" || kind === "climb",
  });
  const change = changeFields(store);
  return {
    path: "comparisons", title: "Which set-up?", button: "Compare the set-ups",
    intro: "Every rider on every set-up, ranked by what one wants to be good at.",
    needs: ["riders", "setups", "conditions", "effort"], needsRiders: () => true,
    fields: [ambitions.node, change.node],
    groups: () => [change.group],
    find: ([list, , ...rest]) => (list === "changes" ? change.group.field(rest.at(-1)) : undefined),
    lacks: () => ((store.get("setups")?.length ?? 0) < 2 ? "This needs two set-ups or more to choose from." : null),
    read() {
      const at = ambitions.get();
      return clean({ ambitions: (at.length ? at : [{ finish: true }]).map((place) => ({ at: place })), changes: change.get() });
    },
    rides: (answer) => [...answer.comparisons, ...answer.comparisons[0].setups],
    show: (answer, u) => [el("p", { class: "told" }, answer.recommendation), answer.comparisons.map((c) => oneRider(answer, c, u))],
  };
}

/** The fields of a change of bicycle. */
function changeFields(store) {
  const wanted = checkField("change", "Try a change on the way");
  const from = selectField("change-from", "From");
  const to = selectField("change-to", "To");
  const at = selectField("change-at", "Where");
  const rest = group(store, "change", [
    ["standing_s", "Standing for", "s", 0, 3600, { hint: "left empty: 15 s" }],
    ["distance_m", "Without the bunch for", "along", 1, 1e7, { hint: "left empty: the shelter stays" }],
  ]);
  follow(store, ["setups"], () => {
    const names = (store.get("setups") ?? []).map((s, i) => [String(i), s.name || `Set-up ${i + 1}`]);
    from.set(names);
    to.set(names);
    if (to.get() === from.get() && names.length > 1) to.choose(names.find(([i]) => i !== from.get())[0]);
  });
  follow(store, ["course", "units"], () => {
    if (store.get("course")) at.set([["", "at every climb's foot and feed"], ...placeChoices(store, [...goalKinds, "feed", "other"])]);
  });
  return {
    node: more("A change of bicycle on the way", row(wanted), row(from, to, at), rest.nodes), group: rest,
    get() {
      if (!wanted.get()) return undefined;
      const { standing_s, distance_m } = rest.read();
      return [clean({
        at: at.get() && JSON.parse(at.get()), from_index: Number(from.get()), to_index: Number(to.get()), standing_s,
        lost_shelter: distance_m && { distance_m },
      })];
    },
  };
}

/** What a rider is told; of several riders each is folded but the first. */
function oneRider(answer, c, u) {
  const setups = c.setups.map((s) => s.setup);
  const several = answer.comparisons.length > 1;
  const parts = [
    several ? el("p", {}, c.recommendation) : null,
    table(`${c.rider}: the fastest in bold, the others by how much they are behind (between what bounds)`,
      ["To be good", ...setups.map((s) => [s, "n"])],
      c.ambitions.map((a) => [ambitionWords(answer.ambitions[a.ambition_index]), ...c.setups.map((s) => rankWords(a, s))])),
    crossingsTable(answer, c, u),
    c.changes.map((change) => changeTable(change, u)),
  ];
  if (!several) return parts;
  return el("details", { open: c.rider_index === 0 }, el("summary", {}, c.rider), parts);
}

function ambitionWords(a) {
  const words = a.measure === "time_to_line" ? `at ${a.name}` : `over ${a.name}`;
  return a.passes.length > 1 ? `${words}, mean of ${a.passes.length} passes` : words;
}

function rankWords(ambition, s) {
  const place = ambition.ranking.findIndex((r) => r.setup_index === s.setup_index);
  if (place < 0) return s.problem?.detail ?? "doesn't get there";
  const { time_s: time, behind } = ambition.ranking[place];
  if (place === 0) return el("strong", {}, clock(time));
  if (behind.tie) return `level: +${seconds(behind.gap_s)} isn't beyond doubt`;
  return `+${seconds(behind.gap_s)} (${seconds(behind.low_s)} to ${seconds(behind.high_s)})`;
}

/** Where another set-up becomes the better one. */
function crossingsTable(answer, c, u) {
  const rows = c.ambitions.flatMap((a) => a.crossings.filter((x) => x.at !== undefined).map((x) => {
    const [words, write] = quantities[x.quantity];
    return [`${words}, ${ambitionWords(answer.ambitions[a.ambition_index])}`, write(x.at, u), x.own === undefined ? "" : write(x.own, u), x.better_below, x.better_above];
  }));
  if (!rows.length) return null;
  return more("When another would be the better one", table(`${c.rider}: where the runner-up takes over, all else equal`,
    ["Quantity", ["Turns at", "n"], ["Is now", "n"], "Better below", "Better above"], rows));
}

const quantities = {
  rider_mass_kg: ["Rider's mass", (v, u) => u.mass(v)],
  power_w: ["Power", watts],
  shelter: ["Drag in shelter over drag alone", percent],
  gradient_pct: ["Steady gradient", gradient],
};

function changeTable(change, u) {
  const title = `From ${change.from} to ${change.to}, standing ${seconds(change.standing_s)}`;
  if (!change.trials.length) return el("p", {}, `${title}: the first set-up doesn't get that far.`);
  return more(title, table("What a change wins against none, place by place",
    ["Where", ["Wins", "n"], ["Loses by stopping", "n"], ["Pays if standing below", "n"], ["Gap that opens", "n"], "Closed again"],
    change.trials.map((t, i) => {
      const where = i === change.best_trial_index ? el("strong", {}, t.place.name) : t.place.name;
      if (t.problem) return [where, t.problem.detail, "", "", "", ""];
      const opened = t.opened_s === undefined ? "" : `${seconds(t.opened_s)}, ${u.length(t.opened_m)}`;
      return [where, signed(t.gain), seconds(t.lost_s), t.break_even_standing_s > 0 ? seconds(t.break_even_standing_s) : "never", opened,
        t.level_after_m === undefined ? "not by the finish" : `after ${u.length(t.level_after_m)}`];
    })));
}

const signed = (gap) => `${gap.gap_s < 0 ? "−" : "+"}${seconds(gap.gap_s)}${gap.tie ? ", within doubt" : ""}`;
