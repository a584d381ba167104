// What people typed about riders and set-ups is kept in this browser, and nowhere else.

const key = "parcours.riders.1";
const most = 100000; // characters: 20 riders and 20 set-ups with long names take half of it

/** What was kept: {riders, setups, effort}, or null where there is nothing that can be read. */
export function recall() {
  try {
    const text = localStorage.getItem(key);
    if (!text || text.length > most) return null;
    const kept = JSON.parse(text);
    return Array.isArray(kept.riders) && Array.isArray(kept.setups) ? kept : null;
  } catch {
    return null; // broken, or the browser keeps nothing
  }
}

/** Keeps what is given in the place of what was kept. */
export function keep(typed) {
  try {
    localStorage.setItem(key, JSON.stringify(typed));
  } catch {
    // a browser that keeps nothing still predicts
  }
}

export function forget() {
  try {
    localStorage.removeItem(key);
  } catch {
    // nothing was kept
  }
}
