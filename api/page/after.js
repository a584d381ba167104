// After the race: recorded rides held against what was predicted of them, and what is learnt
// for the next.

import { askAbout, clean } from "./course.js";
import { el, fill } from "./dom.js";
import { learntOf, rideTold, ridesTable, roundOf } from "./hindsight.js";
import { checkField, more, row, selectField } from "./racefields.js";
import { namesOf, recordingList } from "./recordings.js";
import { ridePicture } from "./ridepicture.js";
import { askedWords, assumptionsOf, cautionsOf, makeChoice, rideName } from "./rides.js";
import { makeWork } from "./work.js";
import { unitsOf } from "./wording.js";

/** Fills the section; riders is what mountRiders returned. */
export function mountAfter(section, store, riders) {
  const recordings = recordingList(store, tellLack);
  const against = selectField("after-against", "Held against", [["effort", "the effort chosen above"], ["mean", "its own mean power, held throughout"]], tellLack);
  const plans = checkField("after-plans", "What the best plan would have brought");
  const seek = [["wind", "the wind of the day"], ["power_scale", "how far the power meter is off"]].map(([name, words]) => ({ name, box: checkField(`after-${name}`, words) }));
  const lack = el("p", { class: "soft" });
  const ask = el("button", { class: "main", id: "after-ask" }, "Compare with the prediction");
  const form = el("form", { class: "no-print", onsubmit: run }, recordings.node, row(against, plans),
    more("Look also for", row(...seek.map((s) => s.box)), el("p", { class: "soft" }, "Each asks more of the rides: what they tell of the drag area gets less sure with it, unless they show it well.")),
    lack, el("p", {}, ask));
  const work = makeWork((problem) => point(problem));
  const overview = el("div");
  const picture = ridePicture(store, "/v1/calibrations");
  const choice = makeChoice("after-ride", "In full, the ride of", store, rideTold, draw, fileName);
  const below = el("div");
  let held = null; // {sent, answer, rides}: the last answer, and what was sent for it

  fill(section,
    el("h2", { id: "after-title" }, "After the race"),
    el("p", { class: "soft no-print" }, "The rides as they were recorded, beside what was predicted of them: where the difference comes from, and what the next prediction can learn. A mass is needed of each rider; power in the recording tells the most."),
    el("p", { class: "soft no-print" }, "Recordings go to this service, which keeps nothing of them, and stay in this page until it is left. They show where people live: cut off their ends, and ask before you send one that isn't yours."),
    form, work.node, overview, el("div", { class: "answer" }, choice.node, picture.node), below);
  tellLack();

  function tellLack() {
    const best = against.get() === "effort" && store.get("effort")?.kind === "best";
    fill(lack, best ? "A ride is held against a power that was given: choose another effort above, or the ride's own mean power. The best plan has a box of its own." : null);
    ask.disabled = best || recordings.rows.length === 0;
  }

  /** What all rides have in common in a request. */
  const common = () => clean({ conditions: store.get("conditions"), effort: against.get() === "effort" ? store.get("effort") : null });

  /** The request of rides that were read: without names of files, which may tell more than they should. */
  function requestOf(read) {
    const [names, bikes] = [namesOf(store.get("riders"), "Rider"), namesOf(store.get("setups"), "Set-up")];
    const rides = read.map(({ who, what, trims, file }) => ({
      rider: { ...store.get("riders")[who], name: names[who] }, ...(what === null ? {} : { setup: { ...store.get("setups")[what], name: bikes[what] } }), ...trims, file,
    }));
    return { ...common(), rides, ...clean({ seek: seek.filter((s) => s.box.get()).map((s) => s.name) }) };
  }

  async function run(event) {
    event.preventDefault();
    if (!recordings.complain() || !riders.check()) return;
    const n = recordings.rows.length;
    let read;
    let sent;
    const answer = await work.run(n === 1 ? "Reading the recording …" : `Reading ${n} recordings …`, async (signal) => {
      read = await recordings.read();
      sent = requestOf(read);
      return askAbout(store, "/v1/calibrations", { ...sent, ...(plans.get() ? { plans: true } : {}) }, { signal });
    }, "Answered; see below.");
    if (!answer) return;
    const rides = answer.rides.map((ride, i) => ({ ...ride, at: i, file: read[i].name, rider_index: read[i].who, setup_index: read[i].what ?? 0 }));
    held = { sent, answer, rides };
    for (const ride of rides) if (ride.problem) point(ride.problem, false);
    show();
    draw(choice.chosen());
  }

  function show() {
    const u = unitsOf(store.get("units"));
    choice.take(held?.rides ?? []);
    fill(overview, held && [askedWords({ ...held.sent, riders: ridersOf(held.sent.rides) }, u), held.rides.length > 1 ? [ridesTable(held.rides, fileName, u), roundOf(held.answer.round, held.rides)] : null]);
    fill(below, held && [
      learntOf(held.answer.learnt, held.rides, takeOver, u), cautionsOf(held.answer.cautions),
      more("What the computation supposes", el("ul", {}, held.answer.model.map((m) => el("li", {}, m)))),
      assumptionsOf(held.answer.assumptions.map((a) => ({ ...a, pointer: ofPage(a.pointer, held.rides) })), held.rides, u),
    ]);
  }

  function draw(ride) {
    picture.draw(ride ? { ...held.sent, rides: [held.sent.rides[ride.at]] } : null);
  }

  /** Puts what was learnt where the riders and set-ups are typed; says what became of it. */
  function takeOver(learnt) {
    const who = namesOf(store.get("riders"), "Rider").indexOf(learnt.rider);
    const what = namesOf(store.get("setups"), "Set-up").indexOf(learnt.setup);
    if (who < 0 || (what < 0 && store.get("setups"))) return "That rider or set-up isn't among those above any more.";
    const { cda_m2: cda, crr } = learnt.next.setup;
    const given = store.get("setups")?.[what] ?? {};
    // A drag area is the rider's where the set-up hasn't its own: every rider is put on every set-up.
    const own = cda !== undefined && given.cda_m2 !== undefined;
    riders.take(who, learnt.drag_determined && !own ? { cda_m2: Number((cda - (given.cda_change_m2 ?? 0)).toPrecision(5)) } : {},
      what, clean({ name: learnt.setup, crr: learnt.rolling_determined && !learnt.crr_assumed ? crr : null, cda_m2: learnt.drag_determined && own ? cda : null }));
    return "It stands with the riders above, and counts in the next prediction.";
  }

  /** Shows at the fields what the service found wrong. */
  function point(problem, go = true) {
    for (const e of problem.errors ?? []) {
      const [, i, name] = e.pointer?.match(/^#\/rides\/(\d+)\/(trim_\w+)$/) ?? [];
      recordings.field(i, name)?.fault(e.detail);
    }
    const rides = recordings.rows.map((r) => ({ rider_index: Number(r.rider.get()), setup_index: Number(r.setup.get()) }));
    riders.point({ ...problem, errors: problem.errors?.map((e) => ({ ...e, pointer: e.pointer && ofPage(e.pointer, rides) })) }, go);
  }

  store.on(["units"], show);
  store.on(["course"], ({ course }) => {
    section.hidden = !course;
    work.stop();
    work.say("");
    held = null;
    show();
    draw(null);
  });
  store.on(["riders", "setups", "conditions", "effort"], () => {
    tellLack();
    if (held) work.say("What follows is of what was asked before; ask again to have it anew.");
  });
}

/** What a ride is called: its rider and set-up, and its file where these have several. */
function fileName(ride, all) {
  const others = all.filter((r) => !r.problem && r.rider === ride.rider && r.setup === ride.setup);
  return others.length > 1 ? `${rideName(ride, all)}, ${ride.file}` : rideName(ride, all);
}

/** Those who rode, each once. */
const ridersOf = (rides) => [...new Map(rides.map(({ rider }) => [rider.name, rider])).values()];

/** A pointer into the request as it is with the riders and set-ups of this page. */
function ofPage(pointer, rides) {
  const [, i, list, rest] = pointer.match(/^#\/rides\/(\d+)\/(rider|setup)\/(.*)$/) ?? [];
  if (list) return `#/${list}s/${rides[i]?.[`${list}_index`]}/${rest}`;
  return pointer.replace(/^#\/setup\//, "#/setups/0/");
}
