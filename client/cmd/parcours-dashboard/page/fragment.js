// What is looked at stands in the page's address behind the "#", so that a link shows the same.

/** The views, by their names in the address. */
export const views = ["times", "rider", "round"];

const empty = { view: "times", rider: null, round: null, sort: null, down: false, find: "", shown: null, units: "metric" };

/** Reads a fragment: {view, rider, round, sort, down, find, shown: [rider, …] or null for all, units}. */
export function readFragment(text) {
  const q = new URLSearchParams(text.replace(/^#/, ""));
  return {
    ...empty,
    view: views.includes(q.get("view")) ? q.get("view") : "times",
    rider: q.get("rider"), round: q.get("round"), sort: q.get("sort"), down: q.get("down") === "1",
    find: (q.get("find") ?? "").slice(0, 100),
    shown: q.has("show") ? q.getAll("show") : null,
    units: q.get("units") === "imperial" ? "imperial" : "metric",
  };
}

/** Writes a fragment, "#" in front. */
export function fragmentOf(looked) {
  const q = new URLSearchParams();
  q.set("view", looked.view);
  if (looked.view === "rider" && looked.rider !== null) q.set("rider", looked.rider);
  if (looked.view === "round" && looked.round !== null) q.set("round", looked.round);
  if (looked.sort !== null) q.set("sort", looked.sort);
  if (looked.down) q.set("down", "1");
  if (looked.find) q.set("find", looked.find);
  for (const name of looked.shown ?? []) q.append("show", name);
  if (looked.units !== "metric") q.set("units", looked.units);
  return `#${q}`;
}

/** The same, looking at something else in its own order. */
export const turnedTo = (looked, what) => ({ ...looked, rider: null, round: null, sort: null, down: false, ...what });
