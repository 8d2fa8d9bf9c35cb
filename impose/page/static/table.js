// The rows of the batch as a table, to type and paste in as in a spreadsheet.

import { h, plural, say } from "./dom.js";
import { held, change, redraw, notice, step } from "./batch.js";
import { inputFor } from "./fields.js";
import { findingsOf, severityClass, severityWords, worst } from "./lots.js";
import { openDialog, closeDialog } from "./dialog.js";
import { findingView } from "./findings.js";
import { openImport } from "./imports.js";

const shown = { which: "rows", count: 80, ticked: new Set(), all: false };
const FIRST = ["order", "wearer", "art", "words", "placement", "garment", "copies", "width"];

const table = () => (shown.which === "kits" ? held.batch.kits : held.batch);
const inTable = () => (shown.which === "kits" ? { table: "kits" } : {});

// Columns to show: the usual ones, those of the file, and all where they are asked for.
function listColumns() {
  const { rows, columns } = table();
  const used = new Set(rows.flatMap((row) => Object.keys(row.cells)));
  const names = columns.map((one) => one.name || one.heading);
  const usual = shown.which === "kits" ? ["kit", "art", "words", "placement", "garment", "width"] : FIRST;
  const known = held.columns.map((one) => one.name);
  const listed = [...new Set([...usual, ...names.filter((one) => used.has(one)), ...(shown.all ? [...names, ...known] : [])])];
  return listed.map((name) => held.columns.find((one) => one.name === name) ?? { name, title: name, kind: "text" });
}

const at = (row, column) => document.querySelector(`.grid [data-at="${row}:${column}"]`);

function move(event, row, column) {
  const plain = !(event.ctrlKey || event.metaKey || event.altKey);
  const isSelect = event.target.tagName === "SELECT";
  const to = { ArrowUp: isSelect ? null : [row - 1, column], ArrowDown: isSelect ? null : [row + 1, column], Enter: [row + (event.shiftKey ? -1 : 1), column] }[event.key];
  if (!to || !plain) return;
  event.preventDefault();
  const next = at(...to);
  next?.focus();
  next?.select?.();
}

// Cells from a spreadsheet, laid down from this cell; rows that are not there yet are added.
function paste(event, row, column, columns) {
  const text = event.clipboardData.getData("text/plain").replace(/\r\n?/g, "\n").replace(/\n$/, "");
  if (!/[\t\n]/.test(text)) return;
  event.preventDefault();
  event.target.blur();
  const { rows } = table();
  const ops = [];
  text.split("\n").forEach((line, down) => {
    const cells = line.split("\t").map((value, right) => [columns[column + right]?.name, value.trim()]).filter(([name]) => name);
    const there = rows[row + down];
    if (there) cells.forEach(([name, value]) => ops.push({ op: "set", ...inTable(), id: there.id, column: name, value }));
    else ops.push({ op: "add", ...inTable(), new: `n${down}`, cells: Object.fromEntries(cells.filter(([, value]) => value)) });
  });
  const lines = text.split("\n").length;
  change(`${plural(lines, "row")} pasted`, ops).then((done) => done && notice(`${plural(lines, "row")} pasted.`, { label: "Undo", run: () => step("undo") }));
}

function rowView(row, at_, columns) {
  const found = findingsOf([row.id]);
  const bad = worst(found);
  const set = (name, title) => (value) => change(title, [{ op: "set", ...inTable(), id: row.id, column: name, value }], `${name}-${row.id}`);
  return h("tr", { key: row.id },
    h("td", {}, h("label", { class: "cell-tick" }, h("input", { type: "checkbox", checked: shown.ticked.has(row.id), "aria-label": `Choose row ${row.line}`, on: { change: (event) => { shown.ticked[event.target.checked ? "add" : "delete"](row.id); redraw(); } } }))),
    h("th", { scope: "row", class: "figure" }, row.line),
    columns.map((column, right) => h("td", { key: column.name, class: `kind-${column.kind}` }, inputFor(column, row.cells[column.name] ?? "", set(column.name, column.title), {
      "aria-label": `${column.title}, row ${row.line}`, "data-at": `${at_}:${right}`,
      "aria-invalid": found.some((one) => one.severity === "stop" && one.column === column.name) ? "true" : null,
      on: { keydown: (event) => move(event, at_, right), paste: (event) => paste(event, at_, right, columns) },
    }))),
    h("td", {}, bad && h("button", { class: `small plain is-${severityClass(bad)}`, on: { click: () => openDialog(() => h("div", { class: "dialog" }, h("h2", {}, `Row ${row.line}`), findingsOf([row.id]).map((one) => findingView(one)), h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Close"))), `Row ${row.line}`) } }, severityWords(bad))));
}

async function removeTicked() {
  const ids = [...shown.ticked].filter((id) => table().rows.some((row) => row.id === id));
  shown.ticked.clear();
  if (!ids.length) return;
  if (await change(`${plural(ids.length, "row")} removed`, [{ op: "remove", ...inTable(), ids }])) notice(`${plural(ids.length, "row")} removed.`, { label: "Undo", run: () => step("undo") });
}

async function addRow() {
  const last = table().rows[table().rows.length - 1]?.cells ?? {};
  const cells = shown.which === "kits" ? { kit: last.kit ?? "team" } : Object.fromEntries(Object.entries({ order: last.order, garment: last.garment, placement: last.placement, copies: "1" }).filter(([, value]) => value));
  const ids = await change("Row added", [{ op: "add", ...inTable(), new: "n", cells }]);
  if (!ids) return;
  shown.count = Math.max(shown.count, table().rows.length);
  redraw();
  requestAnimationFrame(() => at(table().rows.length - 1, 0)?.focus());
}

export function view() {
  const columns = listColumns();
  const { rows } = table();
  const which = (name, label) => h("button", { class: "small", "aria-pressed": String(shown.which === name), on: { click: () => { shown.which = name; shown.ticked.clear(); redraw(); } } }, label);
  return h("div", { class: "stack" },
    h("div", { class: "line" }, held.batch.kits.rows.length > 0 && h("div", { class: "line", role: "group", "aria-label": "Table" }, which("rows", "Orders"), which("kits", "Kits of teams")),
      h("button", { class: "small", on: { click: addRow } }, "Add a row"),
      h("button", { class: "small", "aria-disabled": shown.ticked.size ? null : "true", on: { click: removeTicked } }, shown.ticked.size ? `Remove ${plural(shown.ticked.size, "row")}` : "Remove chosen rows"),
      h("button", { class: "small", "aria-pressed": String(shown.all), on: { click: () => { shown.all = !shown.all; redraw(); } } }, "All columns"),
      h("button", { class: "small", on: { click: openImport } }, "Take in a web shop's export")),
    h("p", { class: "quiet small" }, "Paste cells from a spreadsheet into any cell: they fill the rows below, and new rows are added."),
    h("div", { class: "scroll grid", tabindex: "0", role: "region", "aria-label": "Rows" }, h("table", {}, h("caption", { class: "unseen" }, shown.which === "kits" ? "Kits: what each garment of a team carries" : "Orders, one row for each print"),
      h("thead", {}, h("tr", {}, h("th", { scope: "col" }, h("span", { class: "unseen" }, "Choose")), h("th", { scope: "col" }, "Row"), columns.map((one) => h("th", { key: one.name, scope: "col", title: one.help ?? "" }, one.title)), h("th", { scope: "col" }, "To look at"))),
      h("tbody", {}, rows.slice(0, shown.count).map((row, down) => rowView(row, down, columns))))),
    rows.length > shown.count && h("button", { on: { click: () => { shown.count += 200; redraw(); say(`${Math.min(shown.count, rows.length)} of ${rows.length} rows are shown.`); } } }, `Show more: ${rows.length - shown.count} rows left`),
    rows.length === 0 && h("p", { class: "lead" }, "No rows yet. Click “Add a row”, or paste into the first one."));
}
