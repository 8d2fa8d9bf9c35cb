// The first questions: four of them, each of which may stay unanswered.

import { h, s, say } from "./dom.js";
import { get, post } from "./server.js";
import { findPrinters, whereFrom } from "./printers.js";
import { held, redraw, tell, loadState, loadShop, notice, route } from "./batch.js";

const page = { questions: null, answers: {}, at: 0, busy: false };

export async function enter() {
  Object.assign(page, { answers: {}, at: 0, found: null });
  try { page.questions = (await get("/api/first")).questions; } catch (error) { tell(error); page.questions = []; }
  redraw();
  try { page.found = await findPrinters(); } catch { page.found = []; } // none found: it can be named later
  redraw();
}

async function send(body) {
  if (page.busy) return;
  page.busy = true; redraw();
  try {
    await post("/api/first", body);
    await loadState();
    loadShop();
    notice(body.skip ? "You can answer later, under More." : "Thank you. You can change everything under Shop.");
    if (location.pathname === "/start") route.go("/orders"); // a busy machine answers late
  } catch (error) { tell(error); }
  page.busy = false; redraw();
}

const answers = () => Object.fromEntries(Object.entries(page.answers ?? {}).filter(([, value]) => value !== null && value !== undefined));
function next() {
  if (page.at + 1 < page.questions.length) {
    page.at += 1; redraw();
    requestAnimationFrame(() => document.querySelector(".question h2")?.focus());
    say(`Question ${page.at + 1} of ${page.questions.length}.`);
  } else send({ answers: answers() });
}

// Small pictures of what is asked for; the words beside them say the same.
const PICTURES = {
  printer: () => [s("rect", { x: 30, y: 50, width: 140, height: 60, rx: 8, class: "solid" }), s("rect", { x: 52, y: 14, width: 96, height: 40, class: "sheet-shape" }), s("rect", { x: 52, y: 84, width: 96, height: 46, class: "sheet-shape" }), s("path", { d: "M52 136H148M52 131V141M148 131V141", class: "measure-line" })],
  papers: () => [s("rect", { x: 30, y: 22, width: 62, height: 88, class: "sheet-shape" }), s("rect", { x: 62, y: 34, width: 88, height: 62, class: "sheet-shape" }), s("rect", { x: 94, y: 46, width: 62, height: 88, class: "sheet-shape" })],
  press: () => [s("path", { d: "M30 40H170V62H30zM30 92H170V116H30z", class: "solid" }), s("rect", { x: 44, y: 66, width: 112, height: 22, rx: 5, class: "sheet-shape" }), s("path", { d: "M30 132H170M30 127V137M170 127V137", class: "measure-line" })],
  units: () => [s("rect", { x: 22, y: 52, width: 156, height: 40, class: "sheet-shape" }), s("path", { d: Array.from({ length: 15 }, (_, at) => `M${32 + at * 10} 52v${at % 5 ? 10 : 20}`).join(""), class: "measure-line" })],
};
const picture = (name) => s("svg", { viewBox: "0 0 200 150", class: "asked-picture", "aria-hidden": "true" }, (PICTURES[name] ?? PICTURES.units)());

export function view() {
  if (!page.questions) return h("p", { class: "waiting" }, "One moment.");
  const one = page.questions[page.at];
  if (!one) return h("p", {}, h("a", { href: "/orders" }, "To the orders"));
  const last = page.at + 1 === page.questions.length;
  return h("div", { key: "first", class: "first" },
    h("div", { class: "head" }, h("h1", {}, "Four questions, then you can begin"), h("button", { class: "do", on: { click: () => send({ skip: true }) } }, "Skip all of them")),
    h("form", { key: one.name, class: "card question", on: { submit: (event) => { event.preventDefault(); next(); } } },
      h("div", { class: "asked" }, picture(one.name), h("div", { class: "stack" }, h("p", { class: "quiet" }, `Question ${page.at + 1} of ${page.questions.length}`), h("h2", { tabindex: "-1" }, one.question), (one.help ?? one.later) && h("p", { class: "quiet" }, one.help ?? one.later), bodies(one))),
      h("div", { class: "line apart foot" }, page.at > 0 ? h("button", { type: "button", on: { click: () => { page.at -= 1; redraw(); } } }, "Back") : h("span", {}),
        h("span", { class: "line" }, h("button", { type: "button", on: { click: () => { delete page.answers[one.name]; next(); } } }, "I don't know"), h("button", { class: "main-act", "aria-disabled": page.busy ? "true" : null }, last ? "Begin" : "Next")))),
    h("p", { class: "quiet small" }, "What you answer goes into your own shop and nowhere else. Until then an example is shown."));
}

const set = (name, value) => { page.answers[name] = value; redraw(); };

function bodies(one) {
  return ({ printer: printerBody, papers: papersBody, press: pressBody, units: unitsBody }[one.name] ?? plainBody)(one);
}

const choice = (name, value, label, about, checked, run) => h("label", { key: String(value), class: "tick choice" }, h("input", { type: "radio", name, checked, on: { change: run } }), h("span", {}, label, about && h("span", { class: "quiet small" }, ` ${about}`)));
const titles = (one) => (one.choices ?? []).map((each) => (typeof each === "string" ? { value: each, title: each } : each));

function printerBody(one) {
  const said = page.answers.printer ?? {};
  const named = page.found ?? [], widest = titles(one);
  return h("div", { class: "stack" },
    named.length === 0 && h("p", { key: "found", class: "quiet", role: "status" }, page.found ? "No printer was found. It can be found later, in Shop under Printers." : "Looking for printers."),
    named.length > 0 && h("fieldset", { class: "stack" }, h("legend", { class: "unseen" }, one.question), named.map((each) => choice("printer", each.address, each.name, whereFrom(each), said.address === each.address, () => set("printer", { ...said, name: each.name, address: each.address })))),
    h("label", { class: "field measure" }, "What you call it", h("input", { name: "printer-name", value: said.name ?? "", placeholder: "studio", on: { input: (event) => set("printer", { ...said, name: event.target.value }) } })),
    widest.length > 0 && h("label", { class: "field measure" }, "Widest paper it feeds", h("select", { name: "widest", value: said.widest ?? "", on: { change: (event) => set("printer", { ...said, widest: event.target.value }) } }, h("option", { value: "" }, "not said"), widest.map((each) => h("option", { value: each.value }, each.title)))));
}

function papersBody(one) {
  const said = page.answers.papers ?? [];
  const toggle = (paper) => set("papers", said.some((each) => each.paper === paper) ? said.filter((each) => each.paper !== paper) : [...said, { paper }]);
  const left = (paper, value) => set("papers", said.map((each) => (each.paper === paper ? { ...each, left: value } : each)));
  return h("ul", { class: "owned" }, titles(one).map(({ value, title, size, help }) => {
    const mine = said.find((each) => each.paper === value);
    return h("li", { key: value, class: "line" }, h("label", { class: "tick grow" }, h("input", { type: "checkbox", name: "owned", value, checked: Boolean(mine), on: { change: () => toggle(value) } }), h("span", {}, title, " ", h("span", { class: "quiet small" }, size ?? help ?? ""))),
      mine && h("input", { class: "few", inputmode: "numeric", "aria-label": `How many sheets of ${title}`, placeholder: "how many", value: mine.left ?? "", on: { input: (event) => left(value, event.target.value) } }));
  }));
}

function pressBody(one) {
  const said = page.answers.press ?? {};
  const field = (name, label) => h("label", { class: "field" }, label, h("input", { name, placeholder: "380 mm", value: said[name] ?? "", on: { input: (event) => set("press", { ...said, [name]: event.target.value }) } }));
  return h("div", { class: "stack" }, titles(one).length > 0 && h("fieldset", { class: "stack" }, h("legend", { class: "unseen" }, one.question), titles(one).map((each) => choice("press", each.value, each.title, each.help, said.name === each.value, () => set("press", { pads: said.pads, name: each.value })))),
    h("div", { class: "fields" }, field("width", "Platen width"), field("height", "Platen height")),
    h("label", { class: "tick" }, h("input", { type: "checkbox", checked: Boolean(said.pads), on: { change: (event) => set("press", { ...said, pads: event.target.checked }) } }), "I have pads to put inside a garment"));
}

function unitsBody(one) {
  const units = page.answers.units ?? held.state.units;
  return h("div", { class: "stack" }, h("fieldset", { class: "stack" }, h("legend", { class: "unseen" }, one.question), choice("units", "mm", "Millimetres", "", units === "mm", () => set("units", "mm")), choice("units", "in", "Inches", "", units === "in", () => set("units", "in"))),
    h("label", { class: "field measure" }, "Currency", h("input", { name: "currency", maxlength: 3, value: page.answers.currency ?? held.state.currency, on: { input: (event) => { page.answers.currency = event.target.value.toUpperCase(); } } })));
}

const plainBody = (one) => h("fieldset", { class: "stack" }, h("legend", { class: "unseen" }, one.question), titles(one).map((each) => choice(one.name, each.value, each.title, each.help, page.answers[one.name] === each.value, () => set(one.name, each.value))));
