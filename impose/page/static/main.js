// The frame of all pages: which page is shown, the top, what is told of, and the keys that hold everywhere.

import { h, render, say } from "./dom.js";
import { takeWords } from "./server.js";
import { held, start, onChange, notices, drop, step, tell, taking, route } from "./batch.js";
import { redrawDialog } from "./dialog.js";
import * as orders from "./orders.js";
import * as sheets from "./sheets.js";
import * as press from "./press.js";
import * as shop from "./shop.js";
import * as desk from "./desk.js";
import * as more from "./more.js";
import * as first from "./first.js";

const PAGES = [
  ["/orders", "Orders", orders], ["/sheets", "Sheets", sheets], ["/press", "Press", press], ["/shop", "Shop", shop],
  ["/desk", "Desk", desk], ["/more", "More", more], ["/start", "Start", first],
];
const find = (path) => PAGES.find(([address]) => address === path) ?? PAGES[0];
let current = null;

function go(path, focus = true) {
  if (location.pathname !== path.split("?")[0]) history.pushState(null, "", path);
  enter(focus);
}

function enter(focus) {
  const [, title, view] = find(location.pathname);
  if (current !== view) { current?.leave?.(); current = view; view.enter?.(); }
  document.title = `${title} · ${held.batch?.name ?? "impose"}`;
  draw();
  if (!focus) return;
  scrollTo(0, 0);
  document.getElementById("main").focus({ preventScroll: true });
}

document.addEventListener("click", (event) => {
  const link = event.target.closest?.("a[href^='/']");
  if (!link || event.defaultPrevented || event.button || event.metaKey || event.ctrlKey || event.shiftKey) return;
  if (link.target || link.download || !PAGES.some(([address]) => address === link.pathname)) return;
  event.preventDefault();
  go(link.getAttribute("href"));
});
addEventListener("popstate", () => enter(true));

addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey || event.target.closest("dialog")) return;
  const key = event.key.toLowerCase();
  const typing = event.target.matches("input:not([type=checkbox]):not([type=radio]), textarea");
  if (typing && event.target.value !== event.target.__value) return; // the browser's own undo, while typing
  if (key === "z" && !event.shiftKey) { event.preventDefault(); step("undo"); }
  else if (key === "y" || (key === "z" && event.shiftKey)) { event.preventDefault(); step("redo"); }
});
// A picture dropped beside its aim must not take the page away.
addEventListener("dragover", (event) => {
  if (event.defaultPrevented) return;
  event.preventDefault();
  if (event.dataTransfer) event.dataTransfer.dropEffect = "none";
});
addEventListener("drop", (event) => event.preventDefault());

function top() {
  const shown = PAGES.filter(([address]) => address !== "/start" && (address !== "/desk" || held.state.desk));
  return h("div", { class: "top" },
    h("p", { class: "batch", title: held.batch?.name }, held.batch?.name ?? ""),
    h("nav", { "aria-label": "Pages", class: "pages" }, shown.map(([address, title, view]) =>
      h("a", { href: address, "aria-current": current === view ? "page" : null }, title))));
}

const ENDS = {
  key: ["Open this page from its icon again", "For safety, each window is opened by the icon. Close this one and open a new one."],
  ended: ["The program was ended", "Start it again from its icon. Everything is saved."],
};

function stateWords() {
  if (taking.of > 3) return null; // told of as it goes
  if (taking.of) return taking.of === 1 ? "Taking in the picture." : `Taking in ${taking.of} pictures.`;
  if (held.lost === "away") return "The program does not answer. What you see is how it was. Start it from its icon; this page goes on by itself.";
  if (!held.batch) return null;
  const saved = held.saved && held.batch.saved >= held.batch.revision ? "Saved." : "Saving.";
  const plan = held.plan;
  if (held.progress) return `${held.progress}.`.replace("..", ".");
  if (!plan || !plan.sheets.length) return saved;
  return `${saved} ${plan.cost.says}`;
}

function draw() {
  if (!held.batch && !held.lost) return;
  if (held.lost === "key" || held.lost === "ended") {
    const [title, words] = ENDS[held.lost];
    render(document.getElementById("top"));
    render(document.getElementById("main"), h("section", { class: "card" }, h("h1", {}, title), h("p", { class: "lead" }, words)));
    say("");
    return;
  }
  if (held.state) render(document.getElementById("top"), top());
  if (held.batch && current) render(document.getElementById("main"), banner(), current.view());
  const words = stateWords();
  if (words !== null) say(words);
  render(document.getElementById("aside"), noticesView());
}

// The batch was changed outside this page, or cannot be changed in it.
function banner() {
  const { elsewhere, read_only: locked } = held.batch;
  if (elsewhere) {
    return h("section", { key: "elsewhere", class: "said warning stack", "aria-label": "Changed elsewhere" },
      h("p", { class: "strong" }, elsewhere.what),
      h("div", { class: "line" }, elsewhere.answers.map((one) => h("button", { key: one.answer, on: { click: () => more.answerElsewhere(one.answer) } }, one.label))));
  }
  if (locked) {
    return h("section", { key: "locked", class: "said stack" }, h("p", { class: "strong" }, locked.what), h("p", {}, locked.remedy),
      h("div", { class: "line" }, h("button", { on: { click: more.copyToTable } }, "Make a copy that can be changed")));
  }
  return h("div", { key: "none", hidden: true });
}

function noticesView() {
  return h("div", { class: "notices" }, notices.map((one) => h("div", { key: one, class: "notice" }, h("p", {}, one.what),
    one.act && h("button", { on: { click: () => { drop(one); one.act.run(); } } }, one.act.label),
    h("button", { on: { click: () => drop(one) } }, "Close"))));
}

takeWords();
route.go = go;
onChange(draw);
onChange(redrawDialog);
start(() => {
  const fresh = location.pathname === "/" && !held.state.first_answered;
  if (location.pathname === "/") history.replaceState(null, "", fresh ? "/start" : "/orders");
  enter(false);
  document.body.dataset.ready = "1";
}).catch(tell).finally(draw);
