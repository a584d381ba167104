// Tables that are put in order by their heads.

import { el } from "/page/dom.js";

/**
 * A table. Columns are {key, head, kind?: "n", value?: row => what it is ordered by, cell: row =>
 * what is shown}; without a value a column puts nothing in order. A row that isn't a row of
 * cells is {fault: words} or {wait: words} in all columns but the first. order is {sort, down};
 * onorder takes the next one.
 */
export function orderedTable({ caption, columns, rows, order, onorder, foot }) {
  return el("div", { class: "wide", tabIndex: 0, role: "group", "aria-label": caption },
    el("table", {},
      el("caption", {}, caption),
      el("thead", {}, el("tr", {}, columns.map((c) => head(c, order, onorder)))),
      el("tbody", {}, rows.map((row) => line(columns, row))),
      foot ? el("tfoot", {}, foot) : null));
}

function head(column, order, onorder) {
  const ordered = order.sort === column.key;
  const label = column.link ? [column.link, " "] : [];
  return el("th", { scope: "col", class: column.kind, "aria-sort": ordered ? (order.down ? "descending" : "ascending") : null },
    column.value
      ? [label, el("button", {
        type: "button", class: "plain", "data-key": `sort:${column.key}`, "aria-label": column.link ? `Order by ${column.name}` : null,
        onclick: () => onorder(nextOrder(order, column.key)),
      }, column.link ? null : column.head, el("span", { "aria-hidden": "true" }, ordered ? (order.down ? " ▼" : " ▲") : " ↕"))]
      : column.head);
}

/** Up, then down, then as it was. */
function nextOrder(order, key) {
  if (order.sort !== key) return { sort: key, down: false };
  return order.down ? { sort: null, down: false } : { sort: key, down: true };
}

function line(columns, row) {
  const [first, ...rest] = columns;
  const name = el("th", { scope: "row" }, first.cell(row));
  const words = row.fault ?? row.wait;
  if (words) return el("tr", {}, name, el("td", { class: row.fault ? "fault" : "wait", colSpan: rest.length }, el("p", { class: "words" }, words)));
  return el("tr", {}, name, rest.map((c) => el("td", { class: [c.kind, c.mark?.(row)].filter(Boolean).join(" ") || null }, c.cell(row))));
}

/** Puts rows in order by a column; those without a value stand last. */
export function inOrder(rows, columns, { sort, down }) {
  const value = columns.find((c) => c.key === sort)?.value;
  if (!value) return rows;
  const known = (row) => row.fault === undefined && row.wait === undefined || sort === "round" ? value(row) ?? null : null;
  return [...rows].sort((a, b) => {
    const x = known(a), y = known(b);
    if (x === null || y === null) return (x === null) - (y === null);
    const by = typeof x === "string" ? x.localeCompare(y, "en", { numeric: true }) : x - y;
    return down ? -by : by;
  });
}
