// More: everything that is needed seldom.

import { h, hidden, plural, say } from "./dom.js";
import { get, post, follow } from "./server.js";
import { held, base, change, redraw, notice, tell, loadBatch, loadState, openBatch, route } from "./batch.js";
import { inputFor, TRUE_FALSE } from "./fields.js";
import { openImport } from "./imports.js";
import { openQuote } from "./quote.js";
import { findingView } from "./findings.js";
import { openDialog, closeDialog } from "./dialog.js";
import { findBox } from "./found.js";

const page = { choices: null, name: "", checked: null, doing: null };

export async function enter() {
  page.checked = null;
  loadState().then(redraw, () => {}); // the batches' rows as they are now
  await load();
}

async function load() {
  try { const said = await get(`/api/choices?batch=${held.batch.id}`); page.choices = said.choices ?? said; } catch (error) { tell(error); page.choices = []; }
  redraw();
}

export async function answerElsewhere(answer) {
  try { await post(`${base()}/elsewhere`, { answer }); } catch (error) { tell(error); }
  await loadBatch();
}
export async function copyToTable() {
  try { await post(`${base()}/copy-to-csv`); await loadBatch(); notice("The orders were copied. The copy can be changed here."); } catch (error) { tell(error); }
}

async function begin(event) {
  event.preventDefault();
  if (!page.name.trim()) return;
  try {
    const made = await post("/api/batches", { name: page.name });
    page.name = "";
    await openBatch(made.id);
    say("The batch is begun.");
    route.go("/orders");
  } catch (error) { tell(error); }
}

async function check() {
  page.doing = { says: "", done: 0, of: 0 }; redraw();
  try {
    const job = follow(await post(`${base()}/check`), (told) => { page.doing = { ...told, stop: page.doing?.stop }; redraw(); });
    page.doing.stop = job.stop;
    page.checked = await job.work;
    if (page.checked) say(`${plural(page.checked.findings.length, "finding")} in ${plural(page.checked.rows, "row")}.`);
  } catch (error) { tell(error); }
  page.doing = null; redraw();
}

function confirmQuit() {
  openDialog(() => h("div", { class: "dialog" }, h("h2", {}, "End the program?"), h("p", {}, "Everything is saved. The icon starts it again."),
    h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Go on working"), h("button", { class: "main-act", on: { click: async () => { closeDialog(); try { await post("/api/quit"); held.lost = "ended"; redraw(); } catch (error) { tell(error); } } } }, "End it"))), "End the program");
}

function batches() {
  return h("section", { class: "card stack" }, h("h2", {}, "Batches"), h("p", { class: "quiet" }, "A batch is what is printed together: an evening's orders."),
    h("ul", { class: "stack" }, held.state.batches.map((one) => h("li", { key: one.id, class: "line apart" }, h("span", { dir: "auto" }, h("span", { class: "strong" }, one.name), one.example && " (example)", one.rows !== null && h("span", { class: "quiet small" }, ` ${plural(one.rows, "row")}`)),
      one.id === held.batch.id ? h("span", { class: "tag good" }, "open here") : h("button", { class: "small", on: { click: async () => { try { await openBatch(one.id); notice(`${one.name} is open.`); route.go("/orders"); } catch (error) { tell(error); } } } }, "Open", hidden(` ${one.name}`))))),
    h("form", { class: "line", on: { submit: begin } }, h("label", { class: "field grow" }, "Begin a new batch", h("input", { name: "batch", dir: "auto", placeholder: "Saturday", value: page.name, on: { input: (event) => { page.name = event.target.value; } } })), h("button", { class: "low" }, "Begin")));
}

// A choice as the batch keeps it: yes and no, numbers and lists are what they are.
function typed(one, text) {
  if (text === "") return null;
  if (one.kind === "yes-no") return text === "true";
  if (one.kind === "number" || one.kind === "whole") return Number.isFinite(Number(text)) ? Number(text) : text;
  return LISTS.has(one.kind) ? text.split(/[,;]\s*|\s+/).filter(Boolean) : text;
}
const LISTS = new Set(["papers", "words", "accept"]);
const asText = (value) => (value === null || value === undefined ? "" : Array.isArray(value) ? value.join(", ") : String(value));

function choiceView(one) {
  const set = (text) => change(one.title, [{ op: "choose", name: one.name, value: typed(one, text) }], `choose-${one.name}`).then(load);
  const choices = one.kind === "yes-no" && !one.choices?.length ? TRUE_FALSE : one.choices;
  const value = asText(one.value), usual = asText(one.in_force);
  const field = LISTS.has(one.kind) ? { ...one, choices: null } : { ...one, choices };
  return h("div", { key: one.name, class: "value" }, h("label", { class: "field" }, one.title, inputFor(field, value, set, { name: one.name })),
    one.help && h("p", { class: "quiet small" }, one.help), h("p", { class: "origin small quiet" }, value === "" ? `As in the shop: ${usual === "" ? "none" : titleOf({ choices }, usual)}` : "For this batch alone"));
}
const titleOf = (one, value) => one.choices?.find((choice) => choice.value === value)?.title ?? value;

export function view() {
  const groups = new Map();
  for (const one of page.choices ?? []) if (one.name !== "papers") groups.set(one.group, [...(groups.get(one.group) ?? []), one]);
  return h("div", { key: "more" }, h("div", { class: "head" }, h("h1", {}, "More")), h("div", { class: "more" },
    batches(), findBox(),
    h("section", { class: "card stack" }, h("h2", {}, "With this batch"), h("div", { class: "line" }, h("button", { on: { click: openImport } }, "Take in a web shop's export"), h("button", { on: { click: openQuote } }, "Compare papers"), h("button", { "aria-disabled": page.doing ? "true" : null, on: { click: () => !page.doing && check() } }, "Check everything")),
      page.doing && h("div", { class: "doing" }, h("progress", { "aria-label": "Checking", max: page.doing.of || 1, value: page.doing.of ? page.doing.done : null }), h("div", { class: "line apart" }, h("span", { class: "quiet" }, page.doing.says), page.doing.stop && h("button", { class: "small", on: { click: page.doing.stop } }, "Stop"))),
      page.checked && h("div", { class: "stack" }, h("p", { class: "strong" }, page.checked.findings.length ? `${plural(page.checked.findings.length, "finding")}` : "Nothing is wrong."), page.checked.findings.slice(0, 60).map((one) => findingView(one)))),
    h("section", { class: "card stack" }, h("h2", {}, "First questions"), h("p", {}, "Printer, paper, press and units, asked once more."), h("p", {}, h("a", { class: "button", href: "/start" }, "Ask me again"))),
    h("section", { class: "card stack" }, h("h2", {}, "End"), h("p", {}, "The program also ends by itself after a day without anybody."), h("p", {}, h("button", { on: { click: confirmQuit } }, "End the program")))),
  page.choices === null ? h("p", { class: "waiting" }, "Reading the choices.") : h("section", { class: "stack choices", "aria-label": "How this batch is made" }, h("h2", {}, "How this batch is made"), h("p", { class: "lead" }, "An empty field means: as in the shop."),
    [...groups].map(([title, list]) => h("details", { key: title, class: "card" }, h("summary", {}, title), h("div", { class: "values" }, list.map(choiceView))))));
}

