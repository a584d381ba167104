// The picture of rides below the course's profile: times, speed, power and the balance of W′
// on one axis, drawn by the service.

import { askAbout } from "./course.js";
import { el, fill, problemBox } from "./dom.js";
import { makeCursor, readPicture, widthOf } from "./picture.js";
import { calledOff } from "./service.js";

/** As many rides as the service draws in one picture. */
export const mostDrawn = 4;

/**
 * Makes the picture of rides that a call of the service draws. draw(request) draws another
 * request, null for none; units, look and the width of the page are followed.
 */
export function ridePicture(store, path) {
  const sheet = el("div", { class: "sheet", tabIndex: 0, role: "region", "aria-label": "The picture of the rides, which may be wider than the screen" });
  const paper = el("img", { class: "on-paper", alt: "" });
  const trouble = el("div");
  const node = el("figure", { hidden: true }, sheet, trouble);
  const cursor = makeCursor(sheet, (m) => store.set({ cursorM: m }));
  let drawn = null;
  let running = null;
  let width = 0;

  async function redraw() {
    running?.abort();
    node.hidden = !drawn;
    if (!drawn) {
      fill(sheet);
      return;
    }
    const { signal } = (running = new AbortController());
    width = widthOf(sheet);
    const query = { width, theme: store.get("look"), units: store.get("units") };
    try {
      const svg = await askAbout(store, path, drawn, { query, accept: "image/svg+xml", signal });
      fill(trouble);
      fill(sheet, readPicture(svg));
      cursor.show(store.get("cursorM"));
      await printable(query, signal);
    } catch (error) {
      if (calledOff(error)) return;
      fill(sheet);
      fill(trouble, problemBox(error));
    }
  }
  /** Beside a dark picture one in greys stands by: there is no time for it once somebody prints. */
  async function printable(query, signal) {
    paper.remove();
    if (query.theme !== "dark") return;
    const blob = await askAbout(store, path, drawn, { query: { ...query, width: 960, theme: "print" }, accept: "image/svg+xml", as: "blob", signal });
    URL.revokeObjectURL(paper.src);
    paper.alt = sheet.querySelector("title").textContent;
    paper.src = URL.createObjectURL(blob);
    sheet.after(paper);
  }

  store.on(["units", "look"], redraw);
  store.on(["cursorM"], ({ cursorM }) => cursor.show(cursorM));
  new ResizeObserver(() => drawn && sheet.clientWidth > 0 && Math.abs(widthOf(sheet) - width) >= 16 && redraw()).observe(sheet);
  return {
    node,
    draw(request) {
      drawn = request;
      redraw();
    },
  };
}

/** The part of a request that is about one ride. */
export const ofOne = (request, ride) => ({
  ...request, riders: [request.riders[ride.rider_index]], ...(request.setups ? { setups: [request.setups[ride.setup_index]] } : {}),
});
