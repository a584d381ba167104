// Work that may take a while: what is being done, a bar, and a button that calls it off.

import { el, fill, problemBox } from "./dom.js";
import { calledOff } from "./service.js";

/** Makes the place of one kind of work. refused(problem) is told of what the service refuses. */
export function makeWork(refused = () => {}) {
  let running = null;
  const status = el("p", { role: "status", class: "soft" });
  const bar = el("progress", { "aria-label": "The work" });
  const stop = el("button", { type: "button", class: "stop", onclick: () => running?.abort() }, "Stop");
  const busy = el("p", { class: "row no-print", hidden: true }, bar, stop);
  const trouble = el("div");

  /**
   * Runs ask(signal, told), in words of what is done, and returns its answer, told as done; null
   * where it was called off or refused. told(words, part, all) moves the bar. Work that is still
   * running is called off.
   */
  async function run(words, ask, done) {
    running?.abort();
    const from = document.activeElement;
    const mine = (running = new AbortController());
    fill(trouble);
    status.textContent = words;
    bar.removeAttribute("value");
    busy.hidden = false;
    try {
      const answer = await ask(mine.signal, (now, part, all) => {
        status.textContent = now;
        Object.assign(bar, { max: all, value: part });
      });
      if (running === mine) status.textContent = done;
      return answer;
    } catch (error) {
      if (running !== mine) return null;
      status.textContent = calledOff(error) ? "Stopped." : "";
      if (!calledOff(error)) {
        fill(trouble, problemBox(error));
        refused(error);
      }
      return null;
    } finally {
      if (document.activeElement === stop) from.focus(); // it goes, and would take the focus along
      if (running === mine) busy.hidden = true;
    }
  }
  return { node: el("div", {}, status, busy, trouble), run, say: (words) => (status.textContent = words), stop: () => running?.abort() };
}
