// What the batch costs on each paper, and on the best mix.

import { h } from "./dom.js";
import { post, follow } from "./server.js";
import { base, change, held, notice, step, tell } from "./batch.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";

let quote = null;

export async function openQuote() {
  quote = { doing: { says: "", done: 0, of: 0 }, work: null, result: null };
  const mine = quote;
  openDialog(view, "Compare papers", { wide: true, onClose: () => { mine.work?.stop(); quote = null; } });
  try {
    mine.work = follow(await post(`${base()}/quote`), (told) => { mine.doing = told; redrawDialog(); });
    mine.result = await mine.work.work;
  } catch (error) { tell(error); closeDialog(); return; }
  mine.work = null;
  redrawDialog();
}

async function use(offer) {
  closeDialog();
  if (await change(`Paper ${offer.title}`, offer.ops)) notice(`Now on ${offer.title}.`, { label: "Undo", run: () => step("undo") });
}

// Whether the sheets are on these papers now, so that choosing them would change nothing.
const inUse = (offer) => [...offer.papers].sort().join() === [...(held.batch.choices.papers ?? held.shop?.papers.filter((one) => one.offered).map((one) => one.paper) ?? [])].sort().join();

function view() {
  const { result, doing } = quote ?? {};
  return h("div", { class: "dialog" }, h("h2", {}, "Compare papers"),
    !result && h("div", { class: "doing" }, h("progress", { "aria-label": "Comparing papers", max: doing?.of || 1, value: doing?.of ? doing.done : null }), h("p", { class: "quiet" }, doing?.says || "Laying the prints on each paper.")),
    result && h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Papers compared" }, h("table", {}, h("caption", { class: "unseen" }, "Cost on each paper"),
      h("thead", {}, h("tr", {}, ["Paper", "Sheets", "Used", `Cost, ${result.currency}`, ""].map((one) => h("th", { scope: "col" }, one || h("span", { class: "unseen" }, "Choose"))))),
      h("tbody", {}, result.offers.map((one) => h("tr", { key: one.papers.join() }, h("th", { scope: "row" }, one.title, one.best && result.offers.length > 1 && [" ", h("span", { class: "tag good" }, "cheapest")]),
        h("td", {}, one.refused?.length ? h("span", { class: "wrong" }, one.says) : Object.entries(one.sheets ?? {}).map(([name, count]) => `${count} × ${name}`).join(", ")),
        h("td", { class: "figure" }, one.yield ? `${Math.round(one.yield * 100)} %` : ""), h("td", { class: "figure end" }, one.cost ?? ""),
        h("td", {}, one.ops && !one.refused?.length && !inUse(one) && h("button", { class: "small", on: { click: () => use(one) } }, `Use ${one.title}`))))))),
    result && (result.left_out ?? []).map((one) => h("p", { key: one, class: "quiet" }, one)),
    result?.levels?.length > 0 && h("details", {}, h("summary", {}, "What each order and garment costs"), h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Shares" }, h("table", {}, h("tbody", {}, result.levels.filter((one) => one.level !== "transfer").map((one, at) => h("tr", { key: at }, h("th", { scope: "row", dir: "auto" }, one.name || one.level), h("td", {}, one.level), h("td", { class: "end figure" }, one.cost))))))),
    h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Close")));
}
