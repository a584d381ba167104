// The key that a service may ask its callers for. It is held for this tab alone, and forgotten
// with it: it never stands in a link, nor with what is kept of riders.

import { el } from "./dom.js";

const name = "parcours.key.1";
let held = recall();
let asking = null; // the one dialog, whoever waits for it

function recall() {
  try {
    return sessionStorage.getItem(name) ?? "";
  } catch {
    return ""; // the browser keeps nothing
  }
}

function hold(key) {
  held = key;
  try {
    sessionStorage.setItem(name, key);
  } catch {
    // it is held until the page is left
  }
}

/** The key to send, "" for none. */
export const heldKey = () => held;

/** Asks the reader for a key and resolves once it is typed to true, or to false if it won't be. */
export function askKey(why) {
  asking ??= ask(why).finally(() => (asking = null));
  return asking;
}

function ask(why) {
  const input = el("input", { id: "key", type: "password", required: true, maxLength: 128, pattern: "\\s*[!-~]+\\s*", title: "Letters, digits and signs without blanks between them", autocomplete: "off", spellcheck: false, "aria-describedby": "key-why" });
  const dialog = el("dialog", { class: "key", "aria-labelledby": "key-title" },
    el("form", { onsubmit: take },
      el("h2", { id: "key-title" }, "A key, please"),
      el("p", { id: "key-why" }, why),
      el("p", { class: "field" }, el("label", { for: "key" }, "Key"), input),
      el("p", { class: "soft" }, "It stays in this tab until the tab is closed, and goes to this service alone. Whoever runs the service gives keys out."),
      el("p", { class: "row" },
        el("button", { class: "main" }, "Use it"),
        el("button", { type: "button", onclick: () => dialog.close() }, "Go on without"))));

  function take(event) {
    event.preventDefault();
    hold(input.value.trim());
    dialog.close("typed");
  }

  document.body.append(dialog);
  dialog.showModal();
  return new Promise((resolve) => {
    dialog.addEventListener("close", () => {
      dialog.remove();
      resolve(dialog.returnValue === "typed");
    });
  });
}
