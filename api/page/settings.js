// How things are shown: units, and light or dark.

import { el, fill } from "./dom.js";

const dark = matchMedia("(prefers-color-scheme: dark)");

/** Fills the form; `look` in the store is what pictures are drawn for. */
export function mountSettings(form, store) {
  const units = choice("units", "Units", [["metric", "km"], ["imperial", "miles"]]);
  const theme = choice("theme", "Look", [["auto", "as the system"], ["light", "light"], ["dark", "dark"]]);
  fill(form, units.node, theme.node);
  form.addEventListener("submit", (event) => event.preventDefault());
  units.select.addEventListener("change", () => store.set({ units: units.select.value }));
  theme.select.addEventListener("change", () => store.set({ theme: theme.select.value }));
  dark.addEventListener("change", apply);
  store.on(["units", "theme"], apply);

  function apply() {
    units.select.value = store.get("units");
    theme.select.value = store.get("theme");
    const chosen = store.get("theme");
    if (chosen === "auto") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = chosen;
    store.set({ look: chosen === "auto" ? (dark.matches ? "dark" : "light") : chosen });
  }
  apply();
}

function choice(id, words, options) {
  const select = el("select", { id, autocomplete: "off" }, options.map(([value, text]) => el("option", { value }, text)));
  return { select, node: el("div", {}, el("label", { for: id }, words), " ", select) };
}
