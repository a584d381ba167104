// What people take along: the service's own bytes as files, and a link.

import { askAbout, withCourse } from "./course.js";
import { el, fill, problemBox } from "./dom.js";
import { call } from "./service.js";

/** Fills the section with downloads; brief is what mountBrief returned. */
export function mountTake(section, store, brief) {
  const status = el("p", { role: "status", class: "soft" });
  const trouble = el("div");
  const theme = choice("take-theme", "Colours", [["", "as on the screen"], ["light", "light"], ["dark", "dark"], ["print", "greys, for paper"]]);
  const width = choice("take-width", "Width", [480, 800, 960, 1200, 1600].map((w) => [w, `${w} px`]));
  width.select.value = 1200;
  const profile = box("take-profile", "with its profile");
  const geometry = box("take-geometry", "with its line");
  const chars = choice("take-chars", "Length", [["", "all of it"], [280, "up to 280 characters"], [2000, "up to 2000 characters"], [4096, "up to 4096 characters"]]);

  const drawn = (accept) => () => withCourse(store, (id) => call(`/v1/courses/${id}/profile`, {
    query: { focus: store.get("focus"), theme: theme.select.value || store.get("look"), width: width.select.value, units: store.get("units") }, accept, as: "blob",
  }));
  const course = () => withCourse(store, (id) => call(`/v1/courses/${id}`, {
    query: { include: [profile.input.checked && "profile", geometry.input.checked && "geometry"].filter(Boolean).join(",") }, as: "blob",
  }));
  const written = (accept) => () => askAbout(store, "/v1/briefs", {
    ...brief.request(), ...(chars.select.value && { max_chars: Number(chars.select.value) }),
  }, { accept, as: "blob" });
  const itinerary = () => {
    const { questions: _, ...request } = brief.request();
    return askAbout(store, "/v1/briefs", { ...request, itinerary: request.itinerary ?? {} }, { accept: "text/csv", as: "blob" });
  };
  const asked = (key, path) => () => askAbout(store, path, store.get(key).request, { as: "blob" });

  const file = (id, words, suffix, ending, ask) => el("button", { type: "button", id, onclick: () => take(suffix, ending, ask) }, words);
  const focus = () => (store.get("focus") === "course" ? "profile" : store.get("focus"));
  const predictions = file("take-predictions", "Predictions as JSON", () => "predictions", "json", asked("predictions", "/v1/predictions"));
  const plans = file("take-plans", "Plans as JSON", () => "plans", "json", asked("plans", "/v1/plans"));
  const rides = group("Riders' times", [], [predictions, plans]);

  fill(section, el("h2", { id: "take-title" }, "Take along"),
    el("div", { class: "row tops" },
      group("The picture, as drawn now", [theme.node, width.node], [
        file("take-svg", "As SVG", focus, "svg", drawn("image/svg+xml")), file("take-png", "As PNG", focus, "png", drawn("image/png"))]),
      group("The course", [profile.node, geometry.node], [file("take-course", "As JSON", () => "course", "json", course)]),
      group("The brief, as chosen above", [chars.node], [
        file("take-markdown", "As Markdown", () => "brief", "md", written("text/markdown")), file("take-text", "As text", () => "brief", "txt", written("text/plain")),
        file("take-brief", "As JSON", () => "brief", "json", written("application/json"))]),
      group("The itinerary", [], [file("take-itinerary", "As a table, CSV", () => "itinerary", "csv", itinerary)]),
      rides),
    el("p", {}, el("button", { type: "button", id: "take-link", onclick: copyLink }, "Copy a link to this"), " ", el("span", { class: "soft" },
      "It shows this course as long as the service holds it; a course of ours always.")),
    status, trouble);

  store.on(["course"], ({ course: c }) => {
    section.hidden = !c;
    fill(trouble);
    status.textContent = "";
  });
  store.on(["course", "predictions", "plans"], (state) => {
    predictions.hidden = !state.predictions;
    plans.hidden = !state.plans;
    rides.hidden = predictions.hidden && plans.hidden;
  });

  async function take(suffix, ending, ask) {
    fill(trouble);
    const name = `${harmless(store.get("course").name)}-${suffix()}.${ending}`;
    status.textContent = `Getting ${name} …`;
    try {
      save(name, await ask());
      status.textContent = `${name} is with your downloads.`;
    } catch (error) {
      status.textContent = "";
      fill(trouble, problemBox(error));
    }
  }

  async function copyLink() {
    try {
      await navigator.clipboard.writeText(location.href);
      status.textContent = "The link is copied.";
    } catch {
      status.textContent = `Copying isn't allowed here; this is the link: ${location.href}`;
    }
  }
}

/** A file name's beginning that no system takes amiss: small Latin letters, digits, hyphens. */
export function harmless(name) {
  return (name ?? "").normalize("NFKD").toLowerCase().replace(/[^a-z0-9\u0300-\u036f]+/g, "-").replace(/[\u0300-\u036f]/g, "").replace(/^-+|-+$/g, "").slice(0, 60) || "course";
}

function save(name, blob) {
  const href = URL.createObjectURL(blob);
  el("a", { href, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(href), 60000); // when it has long been read
}

const group = (words, choices, files) => el("fieldset", {}, el("legend", {}, words), choices.length ? el("div", { class: "row" }, choices) : null, el("div", { class: "row" }, files));

function choice(id, words, options) {
  const select = el("select", { id, autocomplete: "off" }, options.map(([value, text]) => el("option", { value }, text)));
  return { select, node: el("div", { class: "field" }, el("label", { for: id }, words), select) };
}

function box(id, words) {
  const input = el("input", { type: "checkbox", id, autocomplete: "off" });
  return { input, node: el("div", {}, input, " ", el("label", { for: id }, words)) };
}
