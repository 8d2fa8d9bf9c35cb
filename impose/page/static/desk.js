// The desk: a folder that is watched. What it does now, what it asks, and its answers as buttons.

import { h, hidden } from "./dom.js";
import { get, post } from "./server.js";
import { redraw, tell, notice, onEvent } from "./batch.js";

let desk = undefined;
export async function enter() { await load(); }
onEvent("desk", () => { if (location.pathname === "/desk") load(); });

async function load() {
  try { desk = await get("/api/desk"); } catch (error) { tell(error); }
  redraw();
}

async function ask(body, words) {
  try { notice(`${words} ${(await post("/api/desk", body)).says}`); } catch (error) { tell(error); }
  await load();
}

const STATE = { watching: "good", stopping: "warning", "in trouble": "stop", silent: "warning", stopped: "warning" };
const text = (one) => (typeof one === "string" ? one : [one.name ?? one.paper, one.why ?? one.says ?? one.shown].filter(Boolean).join(": "));
const list = (title, items, empty, entry = text, most = 20) => (items?.length || empty) && h("section", { class: "card stack" }, h("h2", {}, title, items?.length ? h("span", { class: "quiet" }, ` ${items.length}`) : ""),
  items?.length ? h("ul", { class: "stack" }, items.slice(0, most).map((one, at) => h("li", { key: one.number ?? at, dir: "auto" }, entry(one)))) : h("p", { class: "quiet" }, empty));

const ANSWERED = { accept: "Accepted: it is delivered in a moment.", reject: "Refused: it is put aside in a moment." };
const warnings = (list) => h("ul", { class: "stack" }, list.map((words, at) => h("li", { key: at, dir: "auto" }, words)));
function question(one) {
  return h("div", { key: one.number, class: "said warning stack" }, h("p", { class: "strong", dir: "auto" }, one.name), warnings(one.warnings.slice(0, 3)), one.warnings.length > 3 && h("details", {}, h("summary", {}, `${one.warnings.length - 3} more`, hidden(` about ${one.name}`)), warnings(one.warnings.slice(3))),
    one.answered ? h("p", { class: "strong" }, ANSWERED[one.answered]) : h("div", { class: "line" }, one.proof && h("a", { class: "button small", href: one.proof, target: "_blank", rel: "noopener" }, "Look first", hidden(", in a new tab")), h("button", { class: "small main-act", on: { click: () => ask({ ask: "accept", number: one.number }, `${one.name} is accepted.`) } }, "Print it like this"), h("button", { class: "small", on: { click: () => ask({ ask: "reject", number: one.number }, `${one.name} is refused.`) } }, "Refuse it")));
}

const ASKED = { printed: "Noted as printed in a moment.", "print-again": "Printed again in a moment." };
function delivery(one) {
  return h("div", { class: "stack" }, h("p", {}, h("span", { class: "strong" }, one.name), one.says && `: ${one.says}`, one.warnings > 0 && h("span", { class: "quiet" }, `, ${one.warnings === 1 ? "a warning" : `${one.warnings} warnings`}`)),
    one.asked ? h("p", { class: "quiet small" }, ASKED[one.asked]) : h("div", { class: "line" }, h("button", { class: "small", on: { click: () => ask({ ask: "printed", number: one.number }, `${one.name} is on paper.`) } }, "It is on paper", hidden(`: ${one.name}`)), h("button", { class: "small", on: { click: () => ask({ ask: "print-again", number: one.number }, `${one.name} is to be printed again.`) } }, "Print it again", hidden(`: ${one.name}`))));
}

export function view() {
  if (desk === undefined) return h("p", { class: "waiting" }, "Asking the desk.");
  if (!desk) return h("section", { key: "none", class: "card stack" }, h("h1", {}, "Desk"), h("p", { class: "lead" }, "No desk is watched. A desk is a folder that makes sheets of what is dropped into it, without anybody at this page."));
  const waiting = [...(desk.inbox ?? []), ...(desk.waiting ?? [])];
  const runs = desk.state !== "stopped";
  return h("div", { key: "desk" }, h("div", { class: "head" }, h("h1", { dir: "auto" }, desk.name === "desk" ? "Desk" : `Desk: ${desk.name}`), h("p", { class: `tag ${STATE[desk.state] ?? "note"}` }, desk.stopping ? "Stops in a moment" : desk.says || desk.state),
    h("div", { class: "line do" }, waiting.length > 0 && h("button", { on: { click: () => ask({ ask: "make-now" }, "What waits is made now.") } }, "Make what waits, now"), runs && !desk.stopping && h("button", { on: { click: () => ask({ ask: "stop" }, "The desk stops.") } }, "Stop the desk"))),
  h("p", { class: "lead" }, "Sheets are made of what is dropped into its folder. You need not be here."),
  desk.trouble && h("p", { class: "said stop strong" }, desk.trouble),
  h("div", { class: "desk" },
    desk.asking?.length > 0 && h("section", { class: "card stack" }, h("h2", {}, "Your answer is wanted"), desk.asking.map(question)),
    desk.making?.length > 0 && list("Being made", desk.making, ""), list("Waiting", waiting, desk.making?.length ? "" : "Nothing waits."), list("Not printed yet", desk.unprinted), list("Refused", desk.refused), list("Made", desk.delivered, "Nothing yet.", delivery, 10), list("Paper", desk.paper)));
}
