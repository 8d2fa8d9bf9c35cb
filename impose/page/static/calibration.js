// Measuring a printer: print a page, read two rulers and four edges, and the program does the arithmetic.

import { h, s, hidden } from "./dom.js";
import { post } from "./server.js";
import { loadShop, notice, tell } from "./batch.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";
import { severityClass } from "./lots.js";

let work = null;

export function openCalibration(printer, shop) {
  work = { printer, papers: shop.papers.filter((one) => !one.roll), paper: (shop.papers.find((one) => one.offered) ?? shop.papers[0]).paper, step: 1, chart: null, readings: {}, readTo: "", said: null };
  openDialog(view, `Measure ${printer.title}`, { wide: true, onClose: () => { work = null; } });
}

async function make() {
  try { work.chart = await post("/api/shop/calibration", { printer: work.printer.printer, paper: work.paper }); work.step = 2; } catch (error) { tell(error); }
  redrawDialog();
}

async function read(write) {
  const { printer, paper, readings, readTo } = work;
  try {
    work.said = await post("/api/shop/calibration/readings", { printer: printer.printer, paper, readings, ...(readTo ? { read_to: readTo } : {}), write });
    if (work.said.written) { closeDialog(); notice(`${printer.title} is measured. Your sheets print true to size from now on.`); loadShop(); return; }
  } catch (error) { work.said = { says: [], findings: error.findings?.length ? error.findings : [{ severity: "stop", what: error.what, remedy: error.remedy }], ready: false }; }
  redrawDialog();
  document.querySelector("dialog [role=status]")?.scrollIntoView({ block: "center" });
}

// What a ruler and an edge look like on the page.
const picture = () => s("svg", { viewBox: "0 0 210 120", class: "chart", "aria-hidden": "true" },
  s("rect", { x: 1, y: 1, width: 208, height: 118, class: "stock" }),
  s("path", { d: "M25 60H185M25 54V66M185 54V66M25 60l7-4v8zM185 60l-7-4v8z", class: "rule" }),
  s("path", { d: Array.from({ length: 6 }, (_, at) => `M${4 + at * 4} ${22 + at * 6}h${10 + at * 3}`).join(""), class: "rule" }),
  s("text", { x: 105, y: 50, class: "rule-text", "text-anchor": "middle" }, "arrow to arrow"), s("text", { x: 45, y: 24, class: "rule-text" }, "first step printed whole"));

const field = (one) => h("label", { key: one.name, class: "field" }, one.title, h("input", { name: one.name, inputmode: "decimal", placeholder: "mm", value: work.readings[one.name] ?? "", on: { input: (event) => { work.readings[one.name] = event.target.value; work.said = null; redrawDialog(); } } }), one.help && h("span", { class: "hint" }, one.help));
const told = (one, at) => h("p", { key: at, class: `said ${severityClass(one.severity)}` }, one.what, " ", one.remedy ?? "");

function view() {
  const { printer, step, chart, said } = work;
  const ready = Boolean(said?.ready);
  const steps = ["Print the page", "Read it", "Save"];
  return h("div", { class: "dialog" }, h("h2", {}, `Measure ${printer.title}`),
    h("ol", { class: "steps" }, steps.map((one, at) => h("li", { key: at, "aria-current": step === at + 1 ? "step" : null }, one))),
    step === 1 && h("div", { class: "stack" }, h("label", { class: "field measure" }, "Paper in the printer", h("select", { value: work.paper, on: { change: (event) => { work.paper = event.target.value; } } }, work.papers.map((one) => h("option", { value: one.paper }, `${one.title}, ${one.size}`)))),
      h("p", { class: "lead" }, "The page has two rulers and steps along each edge. Print it on the paper that you will use, on its coated side."),
      h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Cancel"), h("button", { class: "main-act", on: { click: make } }, "Make the page"))),
    step === 2 && h("div", { class: "stack" },
      h("ol", { class: "numbered stack" }, h("li", {}, h("a", { class: "button", href: chart.pdf, target: "_blank", rel: "noopener" }, "Open the page to print", hidden(", in a new tab"))), h("li", {}, "Print it at actual size, not borderless, with mirroring off. Let it dry."), h("li", {}, "If the heavy words are backwards, switch mirroring off in the printer and print again."), h("li", {}, "Read with a steel rule, to 0.1 mm if you can. “Top” is the edge that came out first.")),
      picture(),
      h("div", { class: "fields" }, chart.fields.filter((one) => !one.more).map(field)),
      h("details", {}, h("summary", {}, "More to read, if you like: whether the paper runs askew"), h("div", { class: "fields" }, chart.fields.filter((one) => one.more).map(field),
        h("label", { class: "field" }, "Your reading may be off by", h("input", { name: "read-to", placeholder: "0.4 mm", value: work.readTo, on: { input: (event) => { work.readTo = event.target.value; work.said = null; redrawDialog(); } } }), h("span", { class: "hint" }, "0.4 mm if you say nothing.")))),
      said && h("div", { class: "stack", role: "status" }, said.findings.map(told), said.says.map((one, at) => h("p", { key: `s${at}`, class: "said good" }, one))),
      h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Cancel"), h("button", { on: { click: () => read(false) } }, "Check"), h("button", { class: "main-act", "aria-disabled": ready ? null : "true", on: { click: () => ready && read(true) } }, "Save the measures"))));
}
