// Finding what was made for whom, across all batches.

import { h, plural } from "./dom.js";
import { get } from "./server.js";
import { redraw, tell } from "./batch.js";

const page = { words: "", found: null, asked: "" };

async function look(event) {
  event.preventDefault();
  if (!page.words.trim()) return;
  try { page.asked = page.words; page.found = (await get(`/api/find?words=${encodeURIComponent(page.words)}`)).found; } catch (error) { tell(error); }
  redraw();
}

export const findBox = () => h("section", { class: "card stack" }, h("h2", {}, "Find what was made"), h("p", { class: "quiet" }, "By a name, an order, a garment, or the number on a label, such as CWK8-T014."),
  h("form", { class: "line", role: "search", on: { submit: look } }, h("label", { class: "field grow" }, "Words", h("input", { name: "find", dir: "auto", value: page.words, on: { input: (event) => { page.words = event.target.value; } } })), h("button", { class: "low" }, "Find")),
  page.found && h("div", { class: "stack", role: "status" }, h("p", { class: "strong" }, page.found.length ? `${plural(page.found.length, "print")} for “${page.asked}”` : `Nothing was made for “${page.asked}”.`),
    h("ul", { class: "stack" }, page.found.slice(0, 60).map((one, at) => h("li", { key: at, class: "small" }, h("p", { class: "strong", dir: "auto" }, one.who || "No name"), h("p", { dir: "auto" }, one.what), h("p", { class: "quiet" }, [`Batch ${one.code}, ${one.batch}`, `${one.again ? "made again" : "made"} ${one.when}`, ...one.printed, one.paper, one.ids, !one.there && "its folder is not found"].filter(Boolean).join(" · "))))))); 
