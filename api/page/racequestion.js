// A question of the race: a form, the work that it takes, and the answer below it.

import { clean, withCourse } from "./course.js";
import { el, fill } from "./dom.js";
import { goToField } from "./fields.js";
import { follow, more } from "./racefields.js";
import { assumptionsOf, cautionsOf } from "./rides.js";
import { call, lines, Problem } from "./service.js";
import { makeWork } from "./work.js";
import { count, unitsOf } from "./wording.js";

/**
 * Makes a question. `riders` is what mountRiders returned. `of` has: its call's `path`, which a
 * brief names it by; `title`, `intro` and `button` for people; `fields`, the form's nodes;
 * `groups()`, those fields that can be wrong; `find(parts)`, the field that the parts of a pointer
 * name; `needs`, the store's keys that it depends on, of which `sends` (or all) go into the request as
 * they are, and `without`, conditions that don't;
 * `lacks()`, what is missing, or null; `read()`, the call's own fields; `rides(answer)`, who is
 * named by index; `show(answer, units)`, nodes; `streamed` where the answer comes with its progress.
 */
export function question(store, riders, of) {
  const lack = el("p", { class: "soft" });
  const ask = el("button", { class: "main" }, of.button);
  const work = makeWork(point);
  const region = el("div", { class: "answer" });
  const form = el("form", { class: "no-print", onsubmit: (event) => (event.preventDefault(), run()), onchange: tellLack }, of.fields, lack, el("p", {}, ask));
  let answer = null;

  function show() {
    const u = unitsOf(store.get("units"));
    fill(region, answer && [
      of.show(answer, u), cautionsOf(answer.cautions),
      more("What the computation supposes", el("ul", {}, answer.model.map((m) => el("li", {}, m)))), assumptionsOf(answer.assumptions, of.rides(answer), u),
    ]);
  }
  store.on(["units"], show);
  store.on(of.needs, () => {
    if (!answer) return;
    work.say("What follows is of what was asked before; ask again to have it anew.");
    remember(of.lacks() ? undefined : of.read());
  });
  store.on(["course"], () => {
    work.stop();
    work.say("");
    answer = null;
    show();
  });
  follow(store, ["course", ...of.needs], tellLack);
  function tellLack() {
    const missing = of.lacks();
    fill(lack, missing && [missing, " ", el("a", { href: "#riders" }, "Go to the riders.")]);
    ask.disabled = Boolean(missing);
  }

  async function run() {
    const groups = of.groups();
    for (const f of groups.flatMap((g) => g.fields)) f.fault("");
    if (!groups.every((g) => g.complain()) || (of.needsRiders() && !riders.check())) return;
    const own = of.read();
    const json = { ...requestOf(store, of.sends ?? of.needs, of.without), ...own };
    const path = `/v1/${of.path}`;
    const got = await work.run("Working on it …", (signal, told) => withCourse(store, (id) => {
      const whole = { course: { course_id: id }, ...json };
      return of.streamed ? streamed(path, whole, signal, told) : call(path, { json: whole, signal });
    }, signal), "Answered; see below.");
    if (!got) return;
    answer = got;
    show();
    remember(own);
  }

  /** Keeps what was asked for the brief, which asks it of the riders as they are by then. */
  function remember(own) {
    const questions = clean({ ...store.get("questions"), [of.path]: own });
    if (JSON.stringify(questions) !== JSON.stringify(store.get("questions"))) store.set({ questions });
  }

  /** Shows at the fields what the service found wrong, the riders' included. */
  function point(problem) {
    const faults = (problem.errors ?? []).map((e) => [e.pointer && of.find(e.pointer.split("/").slice(1)), e.detail]).filter(([field]) => field);
    for (const [field, detail] of faults) field.fault(detail);
    riders.point(problem, faults.length === 0);
    if (faults.length) goToField(faults[0][0]);
  }

  return el("details", { class: "question", id: `race-${of.path}` },
    el("summary", {}, el("h3", {}, of.title)), el("p", { class: "soft" }, of.intro), form, work.node, region);
}

/** The last line's result of an answer of lines; told is told of the others. */
async function streamed(path, json, signal, told) {
  let result = null;
  for await (const line of lines(path, { json, signal })) {
    if (line.problem) throw new Problem(line.problem);
    if (line.progress) told(`${count(line.progress.runs_done)} of ${count(line.progress.runs)} runs are done.`, line.progress.runs_done, line.progress.runs);
    result ??= line.result;
    if (line.end && result) return result;
  }
  throw new Problem({ title: "The answer was cut off", detail: "The connection ended before the last run. Ask again." });
}

/** What of the store goes into a request; `without` names conditions that have no place in it. */
export function requestOf(store, keys, without = []) {
  const own = clean(Object.fromEntries(keys.map((key) => [key, store.get(key)])));
  if (own.conditions) own.conditions = Object.fromEntries(Object.entries(own.conditions).filter(([name]) => !without.includes(name)));
  return own;
}
