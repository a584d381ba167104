// A question of the race: a form, the work that it takes, and the answer below it.

import { clean, withCourse } from "./course.js";
import { el, fill, problemBox, table } from "./dom.js";
import { follow } from "./racefields.js";
import { call, calledOff, lines, Problem } from "./service.js";
import { count, number, unitsOf } from "./wording.js";

/**
 * Makes a question. `of` has: its call's `path`, which the brief names it by; `title`, `intro`
 * and `button` for people; `fields`, the form's nodes; `needs`, the store's keys that go into the
 * request; `lacks()`, what is missing, or nothing; `read()`, the call's own fields; `show(answer,
 * units)`, nodes; and `streamed` where the answer comes with its progress.
 */
export function question(store, of) {
  const lack = el("p", { class: "soft" });
  const ask = el("button", { class: "main" }, of.button);
  const stop = el("button", { type: "button", hidden: true, onclick: () => running?.abort() }, "Stop");
  const bar = el("progress", { hidden: true, "aria-label": of.title });
  const status = el("span", { role: "status", class: "soft" });
  const stale = el("p", { class: "soft no-print", hidden: true }, "What it was asked of has changed since: ask again.");
  const trouble = el("div");
  const region = el("div", { class: "answer" });
  const form = el("form", { class: "no-print" }, of.fields, lack, el("p", { class: "row" }, ask, stop, bar, status));
  const node = el("details", { class: "question", id: `race-${of.path}`, open: of.open ?? false },
    el("summary", {}, el("h3", {}, of.title)), el("p", { class: "soft" }, of.intro), form, stale, trouble, region);
  let running = null;
  let answer = null;

  const show = () => fill(region, answer ? [of.show(answer, unitsOf(store.get("units"))), notes(answer)] : null);
  store.on(["units"], show);
  store.on(of.needs, () => (stale.hidden = !answer));
  store.on(["course"], () => {
    running?.abort();
    answer = null;
    stale.hidden = true;
    fill(trouble);
    show();
  });
  follow(store, ["course", ...of.needs], tellLack);
  form.addEventListener("change", tellLack);
  form.addEventListener("invalid", (event) => unfold(event.target), true);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    run();
  });

  function tellLack() {
    const missing = of.lacks();
    fill(lack, missing ? [missing, " ", el("a", { href: "#riders" }, "Go to the riders.")] : null);
    ask.disabled = Boolean(missing);
  }

  async function run() {
    running?.abort();
    const mine = (running = new AbortController());
    const own = of.read();
    clearFaults(form);
    fill(trouble);
    busy(true);
    try {
      const got = await send(own, mine.signal);
      if (mine.signal.aborted) return;
      answer = got;
      stale.hidden = true;
      show();
      status.textContent = "Answered below.";
      store.set({ questions: { ...store.get("questions"), [of.path]: own } });
    } catch (error) {
      if (running !== mine) return;
      status.textContent = calledOff(error) ? "Stopped." : "";
      if (calledOff(error)) return;
      fill(trouble, problemBox(error));
      showFaults(form, error);
    } finally {
      if (running === mine) busy(false);
    }
  }

  function busy(on) {
    bar.removeAttribute("value");
    bar.hidden = stop.hidden = !on;
    if (on) status.textContent = "Working on it …";
  }

  function send(own, signal) {
    const json = { ...requestOf(store, of.needs, of.without ?? []), ...own };
    const path = `/v1/${of.path}`;
    return withCourse(store, (id) => {
      const whole = { course: { course_id: id }, ...json };
      return of.streamed ? streamed(path, whole, signal) : call(path, { json: whole, signal });
    }, signal);
  }

  async function streamed(path, json, signal) {
    let result = null;
    for await (const line of lines(path, { json, signal })) {
      if (line.problem) throw new Problem(line.problem);
      if (line.result) result = line.result;
      if (line.progress) {
        const { runs_done: done, runs } = line.progress;
        bar.max = runs;
        bar.value = done;
        status.textContent = `${count(done)} of ${count(runs)} runs`;
      }
      if (line.end && result) return result;
    }
    throw new Problem({ title: "The answer was cut off", detail: "The connection ended before the last run. Ask again." });
  }

  return node;
}

/** What the page knows and a call takes; `without` names conditions that have no place in it. */
export function requestOf(store, needs, without) {
  const own = Object.fromEntries(needs.map((key) => [key, store.get(key)]));
  if (own.conditions) {
    own.conditions = Object.fromEntries(Object.entries(own.conditions).filter(([name]) => !without.includes(name)));
    if (!Object.keys(own.conditions).length) delete own.conditions;
  }
  if (!own.setups?.length) delete own.setups;
  if (!own.riders?.length) delete own.riders;
  return clean(own);
}

/** Marks the fields that a problem names, opens what hides them, and goes to the first. */
function showFaults(form, problem) {
  const fields = [...form.querySelectorAll("[data-pointer]")];
  let first = null;
  for (const fault of problem.errors ?? []) {
    const pointer = (fault.pointer ?? "").replace(/\/\d+/g, "/*");
    const field = fields.find((f) => f.dataset.pointer === fault.pointer) ?? fields.find((f) => f.dataset.pointer === pointer);
    if (!field) continue;
    const wrong = el("span", { class: "wrong", id: `${form.parentNode.id}-wrong-${form.querySelectorAll(".wrong").length}` }, fault.detail);
    field.after(wrong);
    field.setAttribute("aria-invalid", "true");
    field.dataset.describedBefore ??= field.getAttribute("aria-describedby") ?? "";
    field.setAttribute("aria-describedby", `${field.getAttribute("aria-describedby") ?? ""} ${wrong.id}`.trim());
    unfold(field);
    first ??= field;
  }
  first?.focus();
}

function clearFaults(form) {
  for (const wrong of form.querySelectorAll(".wrong")) wrong.remove();
  for (const field of form.querySelectorAll("[aria-invalid]")) {
    field.removeAttribute("aria-invalid");
    if (field.dataset.describedBefore) field.setAttribute("aria-describedby", field.dataset.describedBefore);
    else field.removeAttribute("aria-describedby");
    delete field.dataset.describedBefore;
  }
}

/** Opens all that is folded around a node. */
function unfold(node) {
  for (let d = node.closest("details"); d; d = d.parentNode.closest("details")) d.open = true;
}

/** What every answer tells beside its figures: cautions, and folded what it supposes. */
function notes(answer) {
  return [
    el("ul", { class: "caution" }, answer.cautions.map((c) => el("li", {}, c))),
    el("details", {}, el("summary", {}, "What the computation supposes"), el("ul", {}, answer.model.map((m) => el("li", {}, m)))),
    answer.assumptions.length ? el("details", {}, el("summary", {}, `Values that weren't given (${answer.assumptions.length})`),
      table("As a request would have them, in SI units", ["Where", ["Value", "n"], "Source"],
        answer.assumptions.map((a) => [el("code", {}, a.pointer.slice(2)), a.unit && a.unit !== "1" ? `${number(a.value, 4)} ${a.unit}` : number(a.value, 4), a.source]))) : null,
  ];
}
