// Prints that no paper takes, and the ways out, as pictures.

import { h } from "./dom.js";
import { get } from "./server.js";
import { base, change, notice, step, tell } from "./batch.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";
import { drawing } from "./garment.js";
import { titleOfPlace } from "./lots.js";
import { held } from "./batch.js";

let prints = null;

export async function openLarge() {
  prints = null;
  openDialog(view, "Prints too large for the paper", { wide: true });
  try { prints = (await get(`${base()}/large`)).prints; } catch (error) { closeDialog(); tell(error); return; }
  redrawDialog();
}

async function take(print, way) {
  closeDialog();
  if (await change(way.label, way.ops)) notice(`Done: ${way.label}.`, { label: "Undo", run: () => step("undo") });
}

function titleOf(print) {
  const cells = held.batch.rows.find((row) => row.id === print.row)?.cells ?? {};
  return [cells.order, cells.wearer, titleOfPlace(cells.placement)].filter(Boolean).join(", ") || "A print";
}

const view = () => h("div", { class: "dialog" }, h("h2", {}, "Too large for the paper"), h("p", { class: "lead" }, "Choose what to do. Each picture shows the print on its paper."),
  prints === null && h("p", { class: "quiet" }, "Working out the ways."),
  prints?.length === 0 && h("p", {}, "Every print fits now."),
  (prints ?? []).map((print) => h("section", { key: print.row, class: "stack" }, h("h3", { dir: "auto" }, `${titleOf(print)}: ${print.size}`),
    h("ul", { class: "ways" }, print.ways.map((way, at) => h("li", { key: `${way.way}${at}` }, h("button", { class: "way", on: { click: () => take(print, way) } },
      way.svg ? h("span", { class: "way-picture" }, drawing(way.svg)) : null, h("span", { class: "strong" }, way.label), way.cost && h("span", { class: "quiet small figure" }, `${way.cost} ${held.state.currency} of paper`))))))),
  h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Close")));
