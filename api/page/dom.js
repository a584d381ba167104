// Elements without a string of HTML: whatever a file or a person names is text.

/**
 * Makes an element. Properties that start with "on" are listeners, "class", "for" and those
 * with a hyphen are attributes, `true` an empty attribute, null and false nothing; all others
 * are set as properties. Children are nodes, texts, lists of them, or nothing.
 */
export function el(tag, properties = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name in node && !name.includes("-")) node[name] = value;
    else node.setAttribute(name === "className" ? "class" : name, value === true ? "" : value);
  }
  node.append(...nodes(children));
  return node;
}

/** Replaces what a node holds. */
export function fill(node, ...children) {
  node.replaceChildren(...nodes(children));
  return node;
}

function nodes(children) {
  return children.flat(Infinity).filter((c) => c !== null && c !== undefined && c !== false && c !== "");
}

/** A table with a caption; heads are texts, or [text, "n"] for columns of numbers, [text,
 * "t"] for columns of long texts. */
export function table(caption, heads, rows) {
  const kinds = heads.map((h) => (Array.isArray(h) ? h[1] : null));
  const words = heads.map((h) => (Array.isArray(h) ? h[0] : h));
  return el("div", { class: "wide", tabIndex: 0, role: "group", "aria-label": caption },
    el("table", {},
      el("caption", {}, caption),
      el("thead", {}, el("tr", {}, words.map((w, i) => el("th", { scope: "col", class: kinds[i] }, w)))),
      el("tbody", {}, rows.map((cells) => el("tr", {}, cells.map((cell, i) =>
        i === 0 ? el("th", { scope: "row", class: kinds[i] }, cell) : el("td", { class: kinds[i] }, cell)))))));
}

/** Says what went wrong, in the service's own words, with each place in the file or form. */
export function problemBox(problem) {
  const inFile = [problem.line && `line ${problem.line}`, problem.point && `point ${problem.point}`].filter(Boolean).join(", ");
  const places = (problem.errors ?? []).map((e) =>
    el("li", {}, e.pointer || e.parameter ? el("code", {}, e.pointer ?? e.parameter) : null, e.pointer || e.parameter ? ": " : null, e.detail));
  return el("div", { class: "problem", role: "alert" },
    el("h3", {}, problem.title),
    problem.detail ? el("p", {}, problem.detail) : null,
    inFile && !problem.detail?.startsWith(inFile) ? el("p", {}, `In the file: ${inFile}`) : null,
    places.length ? el("ul", {}, places) : null,
    problem.type ? el("p", {}, el("a", { href: problem.type }, "What this means and how to correct it")) : null);
}
