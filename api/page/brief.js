// The brief as it would be posted, in the lengths that chats take.

import { toldFields } from "./briefasked.js";
import { askAbout } from "./course.js";
import { el, fill, table } from "./dom.js";
import { goToField } from "./fields.js";
import { makeWork } from "./work.js";
import { count } from "./wording.js";

/** The lengths in code points; 0 is all there is to say. */
const lengths = [280, 2000, 4096, 0];

/**
 * Fills the section. The brief is fetched when it is asked for, and then kept up to date.
 * request() is what would be asked, without course and length.
 */
export function mountBrief(section, store, riders) {
  const length = choice("brief-length", "How long, in characters", lengths.map((n) => [String(n), n ? count(n) : "all of it"]), "2000", () => (show(), renew()));
  const form = choice("brief-form", "Copied as", [["text", "plain text"], ["markdown", "Markdown"]], "text", show);
  const told = toldFields(store, renew);
  const work = makeWork(point);
  const copies = copyRow();
  const read = el("article", { class: "answer" });
  let briefs = new Map(); // by length
  let written = null; // what they were asked with
  let waiting = 0;
  let pressed = false; // whether somebody waits for it, who may be taken to what is wrong

  function course() {
    section.hidden = !store.get("course");
    work.stop();
    work.say("");
    if (written) briefs = new Map();
    show();
    renew();
  }
  store.on(["course"], course);
  store.on(["units", ...told.keys], renew);

  /** Writes anew what was written of something else; somebody may still be typing. */
  function renew() {
    if (written === null) return;
    clearTimeout(waiting);
    waiting = setTimeout(() => (asked() !== written || !briefs.has(Number(length.get()))) && write(false), 300);
  }
  const body = () => ({ units: store.get("units"), ...told.read() });
  const asked = () => JSON.stringify([store.get("course")?.course_id, body()]);

  async function write(byHand) {
    pressed = byHand;
    if (!store.get("course") || !(byHand ? told.complain() : told.valid())) return;
    const request = body();
    const got = asked() === written ? briefs : new Map();
    written = asked();
    const first = Number(length.get());
    const wanted = request.questions?.scenarios ? [first] : [first, ...lengths.filter((l) => l !== first)]; // a race takes its time for each
    await work.run("Writing …", async (signal, progress) => {
      for (const n of wanted.filter((l) => !got.has(l))) {
        got.set(n, await askAbout(store, "/v1/briefs", n ? { ...request, max_chars: n } : request, { signal }));
        if (signal.aborted) return;
        progress("Writing …", got.size, wanted.length);
        briefs = got;
        show();
      }
    }, "The brief is written.");
  }

  function show() {
    const brief = briefs.get(Number(length.get()));
    fill(read, brief && asRead(brief));
    copies.show(new Map([...briefs].map(([n, b]) => [n, b[form.get()]])), brief?.[form.get()]);
  }

  function point(problem) {
    const faults = told.point(problem);
    riders.point(problem, pressed && faults.length === 0);
    if (pressed && faults.length) goToField(faults[0]);
  }

  fill(section,
    el("h2", { id: "brief-title" }, "Brief"),
    el("p", { class: "soft no-print" }, "The course, and what is known of the race, in words to post. What doesn't fit is left out from the least important on, in whole sentences."),
    el("form", { class: "no-print", onsubmit: (event) => (event.preventDefault(), write(true)) },
      el("div", { class: "row" }, length.node, form.node), told.node, el("p", {}, el("button", { class: "main" }, "Write the brief"))),
    work.node, copies.node, read);
  course();
  return { request: body };
}

/** A choice of one among a few. */
function choice(name, words, choices, first, changed) {
  const buttons = choices.map(([value]) => el("input", { type: "radio", name, id: `${name}-${value}`, value, checked: value === first, autocomplete: "off", onchange: changed }));
  const node = el("fieldset", { class: "choice" }, el("legend", {}, words),
    choices.map(([, text], i) => el("span", {}, buttons[i], " ", el("label", { for: buttons[i].id }, text), " ")));
  return { node, get: () => buttons.find((b) => b.checked).value };
}

/** The brief as it is read; its texts stay texts. */
function asRead(brief) {
  return [
    el("h3", {}, brief.title),
    brief.sections.map((s) => (s.heading ? [el("h4", {}, s.heading), sectionBody(s, brief)] : s.lines.map((l) => el("p", {}, l)))),
    brief.cautions.map((c) => el("p", { class: "caution" }, c)),
    brief.omitted_count > 0 && el("p", { class: "soft no-print" }, `Left out at this length: ${count(brief.omitted_count)} sentences and lines.`),
  ];
}

/** A section's list; the itinerary, which is set for letters of one width, is a table here. */
function sectionBody(section, brief) {
  if (brief.itinerary && section.heading === "Itinerary") return itineraryTable(brief.itinerary);
  return el("ul", {}, section.lines.map((l) => el("li", {}, l)));
}

function itineraryTable(it) {
  const high = it.rows.some((r) => r.elevation_text);
  return [
    table("Itinerary", [["Covered", "n"], ["To go", "n"], ...(high ? [["Height", "n"]] : []), "Place", ...it.columns.map((c) => [c.text, "n"])],
      it.rows.map((r) => [r.covered_text, r.to_go_text, ...(high ? [r.elevation_text ?? ""] : []), r.things.map((t) => t.text).join("; "), ...r.clock_texts])),
    it.notes.map((n) => el("p", {}, n.detail)),
  ];
}

/** A button for each length that copies the service's own text, and the one that is read letter for letter. */
function copyRow() {
  const done = el("p", { role: "status", class: "soft" });
  const byHand = el("div");
  const letters = el("pre", { tabIndex: 0 });
  let texts = new Map();
  const buttons = lengths.map((n) => {
    const size = el("span", { class: "hint" });
    const button = el("button", { type: "button", "data-copy": String(n), onclick: () => copy(texts.get(n), done, byHand) }, n ? `Copy up to ${count(n)}` : "Copy all of it");
    return { n, size, button, node: el("div", { class: "field" }, button, size) };
  });
  const node = el("div", { class: "no-print", hidden: true }, el("div", { class: "row" }, buttons.map((b) => b.node)), done, byHand,
    el("details", {}, el("summary", {}, "Letter for letter"), letters));
  return {
    node,
    show(all, read) {
      texts = all;
      node.hidden = texts.size === 0;
      letters.textContent = read ?? "";
      done.textContent = "";
      for (const { n, size, button } of buttons) {
        button.disabled = !texts.has(n);
        size.textContent = texts.has(n) ? `${count([...texts.get(n)].length)} characters` : "choose this length";
      }
    },
  };
}

async function copy(text, done, byHand) {
  fill(byHand);
  try {
    await navigator.clipboard.writeText(text);
    done.textContent = `${count([...text].length)} characters copied.`;
  } catch {
    done.textContent = "The browser keeps its clipboard to itself: the text is selected below, to be copied by hand.";
    const area = el("textarea", { readOnly: true, rows: 8, value: text, "aria-label": "The brief, to copy by hand" });
    fill(byHand, area);
    area.focus();
    area.select();
  }
}
