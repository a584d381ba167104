// Where something on the course is, in words.

import { gradient } from "./wording.js";

/** A climb's own name, or its number. */
export const climbName = (climb) => climb.name || `Climb ${climb.climb_id.replace("climb-", "")}`;

/** The climb that another is a part of: its steep part, or as much as is ridden there. */
export const wholeOf = (course, climb) => course.climbs.find((c) => c.climb_id === (climb.parent_climb_id ?? climb.part_of_climb_id));

/** A climb's name with that of the climb which it is a part of. */
export function climbTitle(course, climb) {
  const whole = wholeOf(course, climb);
  if (!whole) return climbName(climb);
  return climb.parent_climb_id ? `${climbName(climb)}, a steep part of ${climbName(whole)}` : `${climbName(climb)}, as much of ${climbName(whole)} as is ridden there`;
}

/** What a kind of marks is called. */
export const markKinds = { sprint: "sprint line", summit: "summit", gate: "timing gate", feed: "feed", other: "place" };

/** What a part of the course is called. */
export function partName(part) {
  if (part.kind === "lap") return `lap ${part.lap}`;
  return { lead_in: "lead-in", run_out: "run-out", whole: "the course" }[part.kind];
}

/** What several parts in course order are called together: "lead-in, laps 1–5". */
export function partNames(parts) {
  const runs = [];
  for (const p of parts) {
    const last = runs.at(-1);
    if (p.kind === "lap" && last?.kind === "lap" && p.lap - last.to < 2) last.to = p.lap;
    else runs.push({ kind: p.kind, from: p.lap, to: p.lap });
  }
  return runs.map((r) => (r.to > r.from ? `laps ${r.from}–${r.to}` : partName({ kind: r.kind, lap: r.from }))).join(", ");
}

/** The part that holds a position; a line between two belongs to the later. */
export const partAt = (course, m) => course.parts.findLast((p) => p.start_m <= m) ?? course.parts[0];

/** Says where a position is, in words. */
export function placeWords(course, m, u) {
  const words = [u.length(m), `${u.length(course.distance_m - m)} to go`];
  const { elevation_m: z, gradient_pct: g, distance_m: s } = course.profile ?? {};
  if (z && g) {
    const i = lastAtMost(s, m);
    words.push(u.height(z[i]), gradient(g[Math.min(i, g.length - 1)]));
  }
  const part = partAt(course, m);
  if (part && part.kind !== "whole") words.push(partName(part));
  for (const c of course.climbs) {
    if (!c.parent_climb_id && c.passes.some((p) => p.start_m <= m && m <= p.end_m)) words.push(climbName(c));
  }
  return words.join(" · ");
}

/** The index of the last of rising numbers that is not above another; 0 where all are. */
export function lastAtMost(rising, most) {
  let low = 0;
  for (let high = rising.length - 1; low < high; ) {
    const middle = (low + high + 1) >> 1;
    if (rising[middle] <= most) low = middle;
    else high = middle - 1;
  }
  return low;
}
