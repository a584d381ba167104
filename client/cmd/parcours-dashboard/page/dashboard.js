// The season's page: it asks its program for what is known, again and again, and shows it as the
// address says.

import { el, fill } from "/page/dom.js";
import { fragmentOf, readFragment, turnedTo } from "./fragment.js";
import { viewOf } from "./views.js";

const part = (id) => document.getElementById(id);

/** How long to wait between two askings, in ms: while an answer is coming, and else. */
const soon = 1000;
const later = 2000;

let looked = readFragment(location.hash);
let answers = null; // what the program said last
let tag = null; // its ETag
let skewMs = 0; // by how much this clock is ahead of the program's
let lostAt = null; // since when the program doesn't answer

listen();
showTools();
poll();
setInterval(showAge, 15_000);

/** Asks, shows what is new, and asks again. */
async function poll() {
  let wait = later;
  try {
    const reply = await fetch("/answers.json", { cache: "no-cache" });
    if (!reply.ok) throw new Error(String(reply.status));
    skewMs = Date.now() - (Date.parse(reply.headers.get("Date")) || Date.now());
    const fresh = reply.headers.get("ETag");
    const back = lostAt !== null;
    lostAt = null;
    if (fresh !== tag) {
      answers = await reply.json();
      tag = fresh;
      const began = performance.now();
      showAll();
      wait = answers.state.kind === "refreshing" ? Math.max(soon, 5 * (performance.now() - began)) : later;
    } else if (back) showState();
  } catch {
    lostAt ??= Date.now();
    showState();
  }
  await new Promise((done) => setTimeout(done, wait));
  await inFront();
  poll();
}

/** Resolves once the page can be seen. */
function inFront() {
  if (!document.hidden) return null;
  return new Promise((done) => document.addEventListener("visibilitychange", done, { once: true }));
}

function showAll() {
  document.title = part("title").textContent = answers.title;
  showState();
  showViews();
  showRiders();
  showView();
  showFooter();
}

/** Says how what is shown stands to the files and the service. */
function showState() {
  const state = lostAt !== null ? { kind: "stale", reason: "The program behind this page doesn't answer." } : answers?.state;
  if (!state) return;
  const words = { current: "Up to date.", refreshing: "Asking the service." }[state.kind] ?? state.reason;
  if (part("status").textContent !== words) part("status").textContent = words;
  part("state").className = state.kind;
  part("progress").hidden = state.kind !== "refreshing" || !state.of_count;
  part("bar").max = state.of_count ?? 1;
  part("bar").value = state.done_count ?? 0;
  part("done").textContent = `${state.done_count ?? 0} of ${state.of_count ?? 0}`;
  showAge();
}

/** Says how old what is shown is. */
function showAge() {
  if (!answers) return;
  if (!answers.answered_at) {
    part("age").textContent = "There is no whole answer yet.";
    return;
  }
  const at = new Date(answers.answered_at);
  part("age").textContent = `The last whole answer is of ${at.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" })}, ${ago(Date.now() - skewMs - at)}.`;
}

function ago(ms) {
  const minutes = Math.floor(ms / 60_000);
  if (minutes < 1) return "less than a minute ago";
  if (minutes < 120) return `${minutes} min ago`;
  return minutes < 2880 ? `${Math.floor(minutes / 60)} h ago` : `${Math.floor(minutes / 1440)} days ago`;
}

/** The ways to the views. */
function showViews() {
  renew("views", [looked, answers.riders.map((r) => r.rider), answers.rounds.map((r) => [r.round_id, r.name])], waysToViews);
}

function waysToViews() {
  const current = (view) => (looked.view === view ? "page" : null);
  const choice = (view, name, options) => el("li", {},
    el("label", { for: `to-${view}` }, name, " "),
    el("select", { id: `to-${view}`, "data-key": `to-${view}`, "aria-current": current(view), onchange: (e) => go({ view, [view]: e.target.value }) },
      el("option", { value: "", disabled: true, selected: looked.view !== view }, "choose"),
      options.map(([value, text]) => el("option", { value, selected: looked.view === view && looked[view] === value }, text))));
  return [
    el("li", {}, el("a", { href: fragmentOf(turnedTo(looked, { view: "times" })), "data-key": "to-times", "aria-current": current("times") }, "All times")),
    choice("rider", "Rider", answers.riders.map((r) => [r.rider, r.rider])),
    choice("round", "Round", answers.rounds.map((r) => [r.round_id, r.name === r.round_id ? r.name : `${r.name} (${r.round_id})`])),
  ];
}

function showView() {
  const shown = viewOf(answers, looked, (order) => look({ ...looked, ...order }));
  const view = part("view");
  const sideways = view.querySelector(".wide")?.scrollLeft ?? 0;
  keepFocus(() => fill(view, el("h2", { id: "view-title", tabIndex: -1 }, shown.title), shown.nodes));
  view.className = "season";
  const wide = view.querySelector(".wide");
  if (wide) wide.scrollLeft = sideways;
  document.title = `${shown.title} – ${answers.title}`;
  showTake(shown);
}

/** Leads to tables of what is shown, in the order in which it is. */
function showTake({ rounds, riders }) {
  part("take").hidden = rounds.length === 0;
  const q = new URLSearchParams();
  if (!same(rounds, answers.rounds, "round_id")) for (const r of rounds) q.append("round", r.round_id);
  if (!same(riders, answers.riders, "rider")) for (const r of riders) q.append("rider", r.rider);
  for (const [id, path] of [["take-rounds", "/rounds.csv"], ["take-times", "/times.csv"], ["take-answers", "/answers.json"]]) {
    part(id).href = q.size ? `${path}?${q}` : path;
  }
}

const same = (some, all, key) => some.length === all.length && some.every((one, i) => one[key] === all[i][key]);

/** The boxes of the riders who are shown, made anew where the roster has changed. */
function showRiders() {
  part("tools").hidden = looked.view === "rider" ? answers.rounds.length === 0 : answers.riders.length === 0;
  part("find-field").hidden = looked.view === "round";
  part("choose").hidden = looked.view === "rider";
  const names = answers.riders.map((r) => r.rider);
  const shown = (name) => looked.shown === null || looked.shown.includes(name);
  const boxes = [...part("riders").querySelectorAll("input")];
  if (boxes.length !== names.length || boxes.some((b, i) => b.value !== names[i])) {
    fill(part("riders"), names.map((name, i) => el("li", {},
      el("input", { type: "checkbox", id: `show-${i}`, value: name, onchange: chooseRiders }), " ", el("label", { for: `show-${i}` }, name))));
  }
  for (const box of part("riders").querySelectorAll("input")) box.checked = shown(box.value);
}

function chooseRiders() {
  const boxes = [...part("riders").querySelectorAll("input")];
  const chosen = boxes.filter((b) => b.checked).map((b) => b.value);
  look({ ...looked, shown: chosen.length === boxes.length ? null : chosen });
}

function showFooter() {
  renew("footer", [answers.cautions, answers.model], () => [
    answers.cautions.length ? el("div", { class: "caution" }, answers.cautions.map((c) => el("p", {}, c))) : null,
    answers.model.length ? el("details", {}, el("summary", {}, "What the times and the comparison suppose"), el("ul", {}, answers.model.map((m) => el("li", {}, m)))) : null,
    el("p", { class: "soft" }, "For scripts: ", ["rounds.csv", "times.csv", "answers.json"].map((name, i) => [i ? ", " : null, el("a", { href: `/${name}` }, `/${name}`)]),
      "; with ?round= and ?rider= a part of them."),
  ]);
}

/** Shows the form's fields as the address says. */
function showTools() {
  if (part("find").value !== looked.find) part("find").value = looked.find;
  part("units").value = looked.units;
}

/** Changes what is looked at, without a step to go back to. */
function look(next) {
  looked = next;
  history.replaceState(null, "", fragmentOf(looked));
  showTools();
  if (answers) showAll();
}

/** Goes to another view; going back comes here again. */
function go(what) {
  location.hash = fragmentOf(turnedTo(looked, what));
}

function listen() {
  part("find").addEventListener("input", (e) => look({ ...looked, find: e.target.value }));
  part("units").addEventListener("change", (e) => look({ ...looked, units: e.target.value }));
  part("tools").addEventListener("submit", (e) => e.preventDefault());
  part("skip").addEventListener("click", (e) => {
    e.preventDefault();
    part("main").focus();
  });
  addEventListener("hashchange", () => {
    const before = looked;
    looked = readFragment(location.hash);
    showTools();
    if (!answers) return;
    showAll();
    if (looked.view !== before.view || looked.rider !== before.rider || looked.round !== before.round) {
      scrollTo({ top: 0, behavior: "instant" });
      part("view-title")?.focus({ preventScroll: true });
    }
  });
}

const made = new Map(); // what parts of the page were made of last

/** Makes a part of the page anew where what it is made of has changed. */
function renew(id, of, make) {
  const text = JSON.stringify(of);
  if (made.get(id) === text) return;
  made.set(id, text);
  keepFocus(() => fill(part(id), make()));
}

/** Makes something anew and gives the focus to what had it. */
function keepFocus(make) {
  const key = document.activeElement?.dataset?.key;
  make();
  if (key) document.querySelector(`[data-key="${CSS.escape(key)}"]`)?.focus({ preventScroll: true });
}
