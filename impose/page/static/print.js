// One print of a garment: what it is, how large, where, and what is wrong with it.

import { h, hidden, plural, askAgain } from "./dom.js";
import { held, change, notice, step } from "./batch.js";
import { findingsOf, titleOfPlace, smallOf, nameOfArt, severityClass } from "./lots.js";
import { findingView } from "./findings.js";
import { fieldFor } from "./fields.js";

// Columns that have a place of their own on the page; the others stand under "More".
const SHOWN = new Set(["order", "wearer", "garment", "art", "placement", "width", "words", "font", "copies", "kit", "name", "number", "accept", "mend"]);

const tableOf = (garment) => (garment.kit ? { table: "kits" } : {});

export function setCell(row, garment, column, value, label) {
  return change(label, [{ op: "set", ...tableOf(garment), id: row.id, column, value }], `${column}-${row.id}`);
}

function places(row) {
  const all = held.columns.find((one) => one.name === "placement")?.choices ?? [];
  const known = all.some((one) => one.value === row.cells.placement);
  return known || !row.cells.placement ? all : [{ value: row.cells.placement, title: row.cells.placement }, ...all];
}

// `seen` is the garment as it was planned: sizes and offsets come from there. `planned` is the row that the plan knows: of
// a kit, that of the one who is shown.
export function printCard(row, garment, seen, planned) {
  const made = seen?.faces.flatMap((one) => one.prints).find((one) => one.row === row.id || one.kit_row === row.id);
  const plan = held.plan?.rows?.[planned.id];
  const found = findingsOf([row.id]);
  const loud = found.filter((one) => severityClass(one.severity) !== "note"), notes = found.filter((one) => !loud.includes(one));
  const title = titleOfPlace(row.cells.placement) || "No place yet";
  const set = (column, label) => (value) => setCell(row, garment, column, value, label);
  const picture = row.cells.art ? smallOf(row.cells.art, 160) : null;
  const size = made?.size || (planned === row && plan?.size) || "";
  return h("article", { key: row.id, id: `print-${row.id}`, class: "card print", "aria-label": title },
    h("div", { class: "print-top" },
      picture ? h("img", { src: picture, alt: "", width: 72, height: 72, loading: "lazy", on: { error: askAgain } })
        : h("span", { class: "letters", "aria-hidden": "true" }, "Aa"),
      h("div", {}, h("h3", {}, title), h("p", { class: "quiet small", dir: "auto" }, row.cells.art ? nameOfArt(row.cells.art) : `“${row.cells.words ?? ""}”`),
        h("p", { class: "figure strong" }, size || (plan ? "not on a sheet" : "being sized")),
        made?.offset && made.offset.split("; ").filter((line) => !line.startsWith("(")).map((line, at) => h("p", { key: at, class: "quiet small" }, line)))),
    loud.slice(0, 3).map((one) => findingView(one, { short: true })),
    loud.length > 3 && h("p", {}, h("a", { href: "/sheets" }, `${loud.length - 3} more to look at`)),
    notes.length > 0 && h("details", { key: "notes" }, h("summary", {}, plural(notes.length, "note"), hidden(`: ${title}`)), notes.map((one) => findingView(one, { short: true }))),
    h("div", { class: "fields two" },
      h("label", { class: "field" }, "Place", h("select", { name: "placement", value: row.cells.placement ?? "", on: { change: (event) => set("placement", "Place of a print")(event.target.value) } },
        h("option", { value: "" }, "none"), places(row).map((one) => h("option", { value: one.value }, one.title)))),
      h("label", { class: "field" }, "Width", h("input", { name: "width", value: row.cells.width ?? "", placeholder: "usual size", on: { input: (event) => set("width", "Width of a print")(event.target.value) } })),
      row.cells.words !== undefined && h("label", { class: "field" }, "Words", h("input", { name: "words", dir: "auto", value: row.cells.words, on: { input: (event) => set("words", "Words of a print")(event.target.value) } })),
      row.cells.words !== undefined && fieldFor("font", row, set)),
    h("details", {}, h("summary", {}, "More", hidden(` about the print: ${title}`)),
      h("div", { class: "fields two" }, held.columns.filter((one) => one.ours !== false && !SHOWN.has(one.name)).map((one) => fieldFor(one.name, row, set))),
      h("p", {}, h("button", { class: "small", on: { click: () => removePrint(row, garment, title) } }, "Remove this print"))));
}

async function removePrint(row, garment, title) {
  const done = await change(`${title} removed`, [{ op: "remove", ...tableOf(garment), ids: [row.id] }]);
  if (done) notice(`${title} was removed.`, { label: "Undo", run: () => step("undo") });
}
