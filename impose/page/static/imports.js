// The export of a web shop: its headings are pointed at, once, and its rows become rows of the batch.

import { h, plural, say } from "./dom.js";
import { put, post } from "./server.js";
import { held, base, loadBatch, notice, step, tell } from "./batch.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";
import { findingView } from "./findings.js";

let work = null;

export function openImport() {
  work = { file: null, map: {}, skip: { heading: "", values: "" }, tried: null, busy: false };
  openDialog(view, "A web shop's export", { wide: true, onClose: () => { work = null; } });
}

async function take(file) {
  if (!file) return;
  try {
    const read = await put(`${base()}/import?name=${encodeURIComponent(file.name)}`, file);
    Object.assign(work, { file: read, map: { ...read.map }, tried: null });
    say(`${plural(read.rows, "row")} read. Say what each column is.`);
  } catch (error) { tell(error); }
  redrawDialog();
}

async function attempt(really) {
  const { file, map, skip } = work;
  const skipped = skip.heading && skip.values ? { [skip.heading]: skip.values.split(",").map((one) => one.trim()).filter(Boolean) } : {};
  work.busy = true; redrawDialog();
  try {
    const said = await post(`${base()}/import/${file.import}`, { map, skip: skipped, take: really });
    if (really) {
      closeDialog();
      await loadBatch();
      notice(`${plural(said.rows.length, "row")} taken in.`, { label: "Undo", run: () => step("undo") });
      return;
    }
    work.tried = said;
  } catch (error) { tell(error); work.tried = { rows: [], findings: error.findings ?? [], skipped: 0 }; }
  work.busy = false;
  redrawDialog();
}

// What column of ours a heading of the export is; the map is kept by our columns. Several headings that are pointed at
// for one column are joined, in the order in which they were pointed at: an item and its size are one garment.
const sources = (rule) => [].concat(typeof rule === "string" || Array.isArray(rule) ? rule : rule?.from ?? []);
const chosenFor = (heading) => Object.entries(work.map ?? {}).find(([, rule]) => sources(rule).includes(heading))?.[0] ?? "";
function point(heading, column) {
  const before = Object.entries(work.map ?? {}).find(([, rule]) => sources(rule).includes(heading));
  if (before) setSources(before[0], sources(before[1]).filter((one) => one !== heading));
  if (column) setSources(column, [...sources(work.map[column]), heading]);
  work.tried = null;
  redrawDialog();
}

function setSources(column, from) {
  const rule = work.map[column];
  if (!from.length) { delete work.map[column]; return; }
  const { always: dropped, ...kept } = rule && typeof rule === "object" && !Array.isArray(rule) ? rule : {};
  work.map[column] = { ...kept, from: from.length === 1 ? from[0] : from };
}

const joined = () => work.file.columns.filter((one) => sources(work.map[one.name]).length > 1)
  .map((one) => h("p", { key: one.name, class: "said" }, `${one.title}: ${sources(work.map[one.name]).join(" and ")}, one behind the other.`));

function always(column) {
  const said = work.map[column.name]?.always ?? "";
  const setAlways = (value) => { if (value) work.map[column.name] = { always: value }; else delete work.map[column.name]; work.tried = null; };
  const choices = held.columns.find((one) => one.name === column.name)?.choices ?? [];
  if (choices.length) {
    return h("label", { key: column.name, class: "field" }, `${column.title}, the same in all rows`, h("select", { value: said, on: { change: (event) => setAlways(event.target.value) } },
      h("option", { value: "" }, "not said"), choices.map((one) => h("option", { value: one.value }, one.title))));
  }
  return h("label", { key: column.name, class: "field" }, `${column.title}, the same in all rows`, h("input", { value: said, list: null, on: { input: (event) => setAlways(event.target.value) } }));
}

function view() {
  const { file, tried } = work;
  if (!file) {
    return h("div", { class: "dialog" }, h("h2", {}, "A web shop's export"),
      h("p", { class: "lead" }, "Choose the file that your shop gives out: CSV or a spreadsheet. It stays as it is."),
      h("label", { class: "button main-act" }, "Choose the export", h("input", { type: "file", class: "unseen", accept: ".csv,.tsv,.txt,.xlsx", on: { change: (event) => take(event.target.files[0]) } })),
      h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Cancel")));
  }
  const missing = file.columns.filter((one) => ["placement", "garment", "order"].includes(one.name) && !sources(work.map[one.name]).length);
  return h("div", { class: "dialog" }, h("h2", {}, "What is each column?"), h("p", { class: "lead" }, `${plural(file.rows, "row")}. Choose, above each column, what it holds. Leave the others. Two columns may be one of ours, such as a garment and its size.`),
    h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "The export" }, h("table", { class: "pointing" }, h("caption", { class: "unseen" }, "The export's columns, with their first rows"),
      h("thead", {}, h("tr", {}, file.headings.map((heading) => h("th", { key: heading, scope: "col" }, heading,
        h("select", { "aria-label": `What is ${heading}?`, value: chosenFor(heading), on: { change: (event) => point(heading, event.target.value) } }, h("option", { value: "" }, "leave it"), file.columns.map((one) => h("option", { value: one.name }, one.title))))))),
      h("tbody", {}, file.sample.map((line, at) => h("tr", { key: at }, line.map((one, right) => h("td", { key: right, dir: "auto" }, one))))))),
    joined(),
    missing.length > 0 && h("div", { class: "fields" }, missing.map(always)),
    h("div", { class: "fields" }, h("label", { class: "field" }, "Leave out rows where", h("select", { value: work.skip.heading, on: { change: (event) => { work.skip.heading = event.target.value; work.tried = null; redrawDialog(); } } }, h("option", { value: "" }, "no column"), file.headings.map((one) => h("option", { value: one }, one)))),
      work.skip.heading && h("label", { class: "field" }, "says one of", h("input", { placeholder: "refunded, voided", on: { input: (event) => { work.skip.values = event.target.value; work.tried = null; } } }))),
    tried && h("div", { class: "stack" }, h("p", { class: "strong" }, `${plural(tried.rows.length, "row")} can be taken. ${tried.skipped ? `${tried.skipped} left out.` : ""}`), tried.findings.slice(0, 12).map((one) => findingView(one, { short: true }))),
    h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Cancel"), h("button", { on: { click: () => attempt(false) } }, "Try it"),
      h("button", { class: "main-act", "aria-disabled": tried?.rows.length ? null : "true", on: { click: () => tried?.rows.length && attempt(true) } }, "Take the rows")));
}
