// What is small of the page's state stands in its address, so that a link shows the same. It
// stands behind the "#", which browsers keep to themselves.

import { clean, readMark, shortMark } from "./course.js";

/** The options of a course that stand in the address, with how their texts are read. */
const optionsRead = { name: String, laps: Number, lap_line: String, reverse: () => true, smoothing: String, track: Number, start_m: Number, end_m: Number };

/** What an address asks for: {demo?, held?, options, units?, theme?, focus?}. */
export function readAddress() {
  const q = new URLSearchParams(location.hash.slice(1));
  const options = clean({
    ...Object.fromEntries(Object.entries(optionsRead).filter(([name]) => q.get(name)).map(([name, read]) => [name, read(q.get(name))])),
    marks: q.getAll("mark").map(readMark),
  });
  const known = (name, pattern) => (pattern.test(q.get(name) ?? "") ? q.get(name) : null);
  return {
    options,
    demo: known("demo", /^[a-z][a-z-]{0,63}$/),
    held: known("course", /^[0-9a-f]{32}$/),
    units: known("units", /^(metric|imperial)$/),
    theme: known("theme", /^(auto|light|dark)$/),
    focus: known("focus", /^(course|laps|map|climb-[1-9][0-9]{0,4})$/),
  };
}

/** Writes the state to the address whenever it changes. */
export function keepAddress(store) {
  let written = location.hash.slice(1);
  store.on(["course", "options", "units", "theme", "focus"], ({ course, source, options, units, theme, focus }) => {
    const q = new URLSearchParams();
    if (course && source?.demo) {
      q.set("demo", source.demo);
      for (const name of Object.keys(optionsRead)) if (options[name]) q.set(name, options[name]);
      for (const mark of options.marks ?? []) q.append("mark", shortMark(mark));
    } else if (course) {
      q.set("course", course.course_id);
    }
    if (units !== "metric") q.set("units", units);
    if (theme !== "auto") q.set("theme", theme);
    if (course && focus !== "course") q.set("focus", focus);
    written = q.toString();
    history.replaceState(null, "", `${location.pathname}${written ? `#${written}` : ""}`);
  });
  addEventListener("hashchange", () => location.hash.slice(1) !== written && location.reload()); // somebody else's link
}
