// The brief as it would be posted, in the lengths that chats take.

import { clean, askAbout } from "./course.js";
import { el, fill, problemBox } from "./dom.js";
import { requestOf } from "./racequestion.js";
import { calledOff } from "./service.js";
import { count } from "./wording.js";

/** The lengths in code points; 0 is all there is to say. */
const lengths = [280, 2000, 4096, 0];
const lengthWords = (n) => (n ? count(n) : "all of it");

/** Fills the section. The brief is fetched when it is asked for, and then kept up to date. */
export function mountBrief(section, store) {
  const length = choice("brief-length", "How long, in characters", lengths.map((n) => [String(n), lengthWords(n)]), "2000", () => show());
  const form = choice("brief-form", "Copied as", [["text", "plain text"], ["markdown", "Markdown"]], "text", () => show());
  const told = toldFields(store);
  const status = el("span", { role: "status", class: "soft" });
  const stop = el("button", { type: "button", hidden: true, onclick: () => running?.abort() }, "Stop");
  const bar = el("progress", { hidden: true, "aria-label": "Brief" });
  const trouble = el("div");
  const copies = el("div", { class: "no-print" });
  const read = el("article", { class: "answer" });
  let briefs = new Map(); // by length
  let running = null;
  let wanted = false;
  let waiting = 0;

  store.on(["course"], ({ course }) => (section.hidden = !course));
  store.on(["course", "units", ...told.keys], () => {
    told.update();
    if (!wanted) return;
    clearTimeout(waiting); // somebody may still be typing
    waiting = setTimeout(write, 300);
  });

  async function write() {
    if (!store.get("course")) return;
    wanted = true;
    running?.abort();
    const mine = (running = new AbortController());
    const body = { units: store.get("units"), ...told.read() };
    const got = new Map();
    fill(trouble);
    bar.hidden = stop.hidden = false;
    status.textContent = "Writing …";
    try {
      const first = Number(length.get());
      for (const n of [first, ...lengths.filter((l) => l !== first)]) {
        got.set(n, await askAbout(store, "/v1/briefs", n ? { ...body, max_chars: n } : body, { signal: mine.signal }));
        briefs = got;
        show();
      }
      status.textContent = "Written.";
    } catch (error) {
      if (running !== mine) return;
      status.textContent = calledOff(error) ? "Stopped." : "";
      if (!calledOff(error)) fill(trouble, problemBox(error));
    } finally {
      if (running === mine) bar.hidden = stop.hidden = true;
    }
  }

  function show() {
    const brief = briefs.get(Number(length.get()));
    fill(read, brief ? asRead(brief) : null);
    fill(copies, briefs.size ? [copyList(briefs, form.get()), brief ? letters(brief[form.get()]) : null] : null);
  }

  fill(section,
    el("h2", { id: "brief-title" }, "Brief"),
    el("p", { class: "soft no-print" }, "The course, and what is known of the race, in words to post. What doesn't fit is left out from the least important on, in whole sentences."),
    el("form", { class: "no-print", onsubmit: (event) => { event.preventDefault(); write(); } },
      el("div", { class: "row" }, length.node, form.node), told.node,
      el("p", { class: "row" }, el("button", { class: "main" }, "Write the brief"), stop, bar, status)),
    trouble, copies, read);
}

/** A choice of one among a few. */
function choice(name, words, choices, first, changed) {
  const buttons = choices.map(([value]) => el("input", { type: "radio", name, id: `${name}-${value}`, value, checked: value === first, autocomplete: "off", onchange: changed }));
  const node = el("fieldset", { class: "choice" }, el("legend", {}, words),
    choices.map(([, text], i) => el("span", {}, buttons[i], " ", el("label", { for: buttons[i].id }, text), " ")));
  return { node, get: () => buttons.find((b) => b.checked).value };
}

/** What the brief tells beside the course. */
function toldFields(store) {
  const keys = ["riders", "setups", "conditions", "surfaces", "effort"];
  const times = el("input", { type: "checkbox", id: "brief-times", checked: true });
  const node = el("fieldset", {}, el("legend", {}, "Beside the course it tells"), el("span", {}, times, " ", el("label", { for: times.id }, "the riders' times")));
  const known = () => store.get("riders")?.length && store.get("effort");
  function update() {
    node.hidden = !known();
  }
  update();
  return {
    node, keys, update,
    read: () => (known() && times.checked ? requestOf(store, keys, []) : {}),
  };
}

/** The brief as it is read; its texts stay texts. */
function asRead(brief) {
  return [
    el("h3", {}, brief.title),
    brief.sections.map((s) => (s.heading ? [el("h4", {}, s.heading), el("ul", {}, s.lines.map((l) => el("li", {}, l)))] : s.lines.map((l) => el("p", {}, l)))),
    brief.cautions.map((c) => el("p", { class: "caution" }, c)),
    brief.omitted_count ? el("p", { class: "soft no-print" }, `Left out at this length: ${count(brief.omitted_count)} sentences.`) : null,
  ];
}

/** A button for each length that copies the service's own text. */
function copyList(briefs, form) {
  const done = el("p", { role: "status", class: "soft" });
  const byHand = el("div");
  const buttons = lengths.filter((n) => briefs.has(n)).map((n) => {
    const text = briefs.get(n)[form];
    return el("div", { class: "field" },
      el("button", { type: "button", "data-copy": String(n), onclick: () => copy(text, done, byHand) }, n ? `Copy up to ${count(n)}` : "Copy all of it"),
      el("span", { class: "hint" }, `${count([...text].length)} characters`));
  });
  return [el("div", { class: "row" }, buttons), done, byHand];
}

async function copy(text, done, byHand) {
  fill(byHand);
  try {
    await navigator.clipboard.writeText(text);
    done.textContent = `${count([...text].length)} characters copied.`;
  } catch {
    done.textContent = "The browser keeps its clipboard to itself: the text is selected below, copy it by hand.";
    const area = el("textarea", { readOnly: true, rows: 8, value: text, "aria-label": "The brief, to copy by hand" });
    fill(byHand, area);
    area.focus();
    area.select();
  }
}

/** The text letter for letter. */
function letters(text) {
  return el("details", {}, el("summary", {}, "Letter for letter"), el("pre", { tabIndex: 0 }, text));
}
