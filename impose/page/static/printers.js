// The printer that sheets are sent to: found in the network or among the computer's own, and named by the person.

import { h, hidden } from "./dom.js";
import { get, post } from "./server.js";
import { loadShop, notice } from "./batch.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";

const SOURCES = { queue: "set up on this computer", found: "found in the network", "on file": "yours" };
let work = null;

export const findPrinters = async () => (await get("/api/printers")).printers.filter((one) => one.source !== "on file");
export const whereFrom = (one) => [SOURCES[one.source] ?? one.source, one.address].filter(Boolean).join(", ");

export async function openPrinters(name = "") {
  const mine = (work = { name, found: null, address: "", at: "", busy: false, wrong: "" });
  openDialog(view, "Which printer is it?", { onClose: () => { work = null; } });
  try { mine.found = await findPrinters(); } catch (error) { Object.assign(mine, { found: [], wrong: error.what }); }
  if (work === mine) redrawDialog();
}

async function use(event) {
  event.preventDefault();
  const mine = work, address = work.at || work.address;
  Object.assign(mine, { busy: true, wrong: "" });
  redrawDialog();
  try {
    const done = await post("/api/printers", { printer: mine.name || mine.called?.trim() || mine.found.find((one) => one.address === address)?.name || "printer", address });
    if (work === mine) closeDialog();
    notice(`Sheets are sent to ${done.printer} from now on, when you ask for it.`);
    loadShop();
  } catch (error) { Object.assign(mine, { busy: false, wrong: [error.what, error.remedy].filter(Boolean).join(" ") }); if (work === mine) redrawDialog(); }
}

function view() {
  const { name, found, busy, wrong } = work;
  const pick = (one) => h("label", { key: one.address, class: "tick choice" }, h("input", { type: "radio", name: "found", checked: work.at === one.address, on: { change: () => { work.at = one.address; redrawDialog(); } } }), h("span", {}, one.name, h("span", { class: "quiet small" }, ` ${whereFrom(one)}`)));
  return h("form", { class: "dialog", on: { submit: use } }, h("h2", {}, name ? `Which printer is ${name}?` : "Which printer holds sublimation ink?"),
    h("p", { class: "quiet" }, "Only the printer that you name is ever printed to. Sublimation paper in a printer with other ink is wasted."),
    found === null ? h("p", { role: "status" }, "Looking for printers.") : h("fieldset", { class: "stack" }, h("legend", { class: "unseen" }, "Printers found"), found.length ? found.map(pick) : h("p", {}, "No printer was found. Write its address below: the printer's own page of its network settings shows it.")),
    h("label", { class: "field" }, "Or its address", h("input", { name: "address", placeholder: "192.168.1.20", value: work.address, on: { input: (event) => { work.address = event.target.value; work.at = ""; redrawDialog(); } } })),
    !name && h("label", { class: "field measure" }, "What you call it", h("input", { name: "call", placeholder: "studio", on: { input: (event) => { work.called = event.target.value; } } })),
    wrong && h("p", { class: "wrong", role: "alert" }, wrong),
    h("div", { class: "foot" }, h("button", { type: "button", on: { click: closeDialog } }, "Cancel"), h("button", { class: "main-act", "aria-disabled": busy ? "true" : null }, busy ? "Asking the printer" : "It holds sublimation ink: use it", name && hidden(`, as ${name}`))));
}
