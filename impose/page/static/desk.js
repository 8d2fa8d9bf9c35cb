// The desk: a folder that is watched. What it does now, what it asks, and its answers as buttons.

import { h, hidden, say } from "./dom.js";
import { get, post } from "./server.js";
import { redraw, tell, onEvent } from "./batch.js";

let desk = undefined;
export async function enter() { await load(); }
onEvent("desk", () => { if (location.pathname === "/desk") load(); });

async function load() {
  try { desk = await get("/api/desk"); } catch (error) { tell(error); }
  redraw();
}

async function ask(body) {
  try { say((await post("/api/desk", body)).says); } catch (error) { tell(error); }
  await load();
}

const text = (one) => (typeof one === "string" ? one : [one.name ?? one.title, one.says ?? one.why ?? one.what, one.shown].filter(Boolean).join(": "));
const list = (title, items, empty, open = true) => (items?.length || empty) && h("section", { class: "card stack" }, h("h2", {}, title, items?.length ? h("span", { class: "quiet" }, ` ${items.length}`) : ""),
  items?.length ? h("ul", { class: "stack" }, items.slice(0, open ? 50 : 10).map((one, at) => h("li", { key: one.number ?? at, dir: "auto" }, text(one)))) : h("p", { class: "quiet" }, empty));

export function view() {
  if (desk === undefined) return h("p", { class: "waiting" }, "Asking the desk.");
  if (!desk) return h("section", { key: "none", class: "card stack" }, h("h1", {}, "Desk"), h("p", { class: "lead" }, "No desk is watched. A desk is a folder that makes sheets of what is dropped into it, without anybody at this page."));
  return h("div", { key: "desk" }, h("div", { class: "head" }, h("h1", {}, `Desk: ${desk.name}`), h("p", { class: "tag good" }, desk.says || desk.state),
    h("div", { class: "line do" }, h("button", { on: { click: () => ask({ ask: "make-now" }) } }, "Make what waits, now"), h("button", { on: { click: () => ask({ ask: "stop" }) } }, "Stop watching"))),
  desk.trouble && h("p", { class: "said stop strong" }, text(desk.trouble)),
  h("div", { class: "desk" },
    desk.asking?.length > 0 && h("section", { class: "card stack" }, h("h2", {}, "Your answer is wanted"), desk.asking.map((one) => h("div", { key: one.number, class: "said warning stack" }, h("p", { class: "strong", dir: "auto" }, one.name), h("ul", {}, one.warnings.map((words, at) => h("li", { key: at }, words))),
      h("div", { class: "line" }, one.proof && h("a", { class: "button small", href: one.proof, target: "_blank", rel: "noopener" }, "Look first", hidden(", in a new tab")), h("button", { class: "small main-act", on: { click: () => ask({ ask: "accept", number: one.number }) } }, "Accept"), h("button", { class: "small", on: { click: () => ask({ ask: "reject", number: one.number }) } }, "Refuse"))))),
    list("Being made", desk.making, "Nothing at the moment."), list("Waiting", [...(desk.inbox ?? []), ...(desk.waiting ?? [])], "Nothing waits."), list("Not printed yet", desk.unprinted), list("Refused", desk.refused), list("Made", desk.delivered, "Nothing yet.", false), list("Paper", desk.paper)));
}
