// Other ways of making: with pictures, the first ones apart, in the place of sheets made before, on printed sheets that have room.

import { h, plural } from "./dom.js";
import { get } from "./server.js";
import { base, held, tell } from "./batch.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";

const FIT = [["whole", "whole: nothing cut out of it"], ["flat", "flat: no crease and no curl"], ["dry", "dry"]];

// Whether a printed sheet is fit to be fed again: all three must be said.
export const fitTicks = (wish) => h("fieldset", { class: "said warning" }, h("legend", { class: "unseen" }, "Is the sheet fit to be fed again?"), h("p", { class: "strong" }, "Look at the sheet. It must be:"),
  FIT.map(([name, label]) => h("label", { key: name, class: "tick" }, h("input", { type: "checkbox", name, checked: wish[name], on: { change: (event) => { wish[name] = event.target.checked; redrawDialog(); } } }), label)));
export const isFit = (wish) => FIT.every(([name]) => wish[name]);

export function openMake(plan, make) {
  const wish = { way: "new", made: held.made?.[0]?.id ?? "", printed: true, sheets: new Set(), clear: "", whole: false, flat: false, dry: false, list: null };
  openDialog(() => view(plan, wish, make), "More ways to make them");
}

async function loadSheets(wish) {
  wish.list = null; wish.sheets.clear();
  try { wish.list = (await get(`${base()}/made/${wish.made}/again`)).sheets; } catch (error) { closeDialog(); tell(error); return; }
  redrawDialog();
}

function view(plan, wish, make) {
  const made = (held.made ?? []).filter((one) => one.files.some((file) => file.kind === "sheets"));
  const pick = (way) => { wish.way = way; if (way === "onto") loadSheets(wish); redrawDialog(); };
  const radio = (way, label, about) => h("label", { key: way, class: "tick" }, h("input", { type: "radio", name: "way", value: way, checked: wish.way === way, on: { change: () => pick(way) } }), h("span", {}, label, " ", h("span", { class: "quiet small" }, about)));
  const which = () => h("label", { class: "field measure" }, "Which", h("select", { name: "made", value: wish.made, on: { change: (event) => { wish.made = event.target.value; if (wish.way === "onto") loadSheets(wish); redrawDialog(); } } }, made.map((one) => h("option", { value: one.id }, `${one.code}, ${one.when}, ${plural(one.sheets, "sheet")}`))));
  const ready = wish.way !== "onto" || (isFit(wish) && wish.sheets.size > 0);
  const go = () => {
    if (!ready) return;
    closeDialog();
    if (wish.way === "first") make({ first: true });
    else if (wish.way === "preview") make({ preview: true });
    else if (wish.way === "replace") make({ replace: wish.made, printed: wish.printed });
    else if (wish.way === "onto") make({ onto: { made: wish.made, sheets: [...wish.sheets], clear: wish.clear, whole: wish.whole, flat: wish.flat, dry: wish.dry } });
    else make();
  };
  return h("div", { class: "dialog" }, h("h2", {}, "More ways to make them"),
    h("fieldset", { class: "stack" }, h("legend", { class: "unseen" }, "How"), radio("new", "On new paper", "as the sheets are shown"), radio("first", "The first one of each run apart", "printed, pressed and looked at before the rest"), radio("preview", "With a picture of each sheet as well", "small, to look at or to send"),
      made.length > 0 && radio("replace", "In the place of sheets made before", "those are taken away"), made.length > 0 && radio("onto", "On printed sheets with room", "what does not fit there goes on new paper")),
    wish.way === "replace" && h("div", { class: "stack" }, which(), h("label", { class: "tick" }, h("input", { type: "checkbox", name: "printed", checked: wish.printed, on: { change: (event) => { wish.printed = event.target.checked; } } }), "They were printed: their paper is gone")),
    wish.way === "onto" && h("div", { class: "stack" }, which(), wish.list === null ? h("p", { class: "quiet" }, "Looking for room.") : h("fieldset", { class: "line" }, h("legend", { class: "strong" }, "Which sheets"), wish.list.map((one) => h("label", { key: one.sheet, class: "tick" }, h("input", { type: "checkbox", name: "sheet", value: one.sheet, checked: wish.sheets.has(one.sheet), on: { change: (event) => { if (event.target.checked) wish.sheets.add(one.sheet); else wish.sheets.delete(one.sheet); redrawDialog(); } } }), one.says))),
      fitTicks(wish), h("label", { class: "field measure" }, "Keep clear of old prints by ", h("span", { class: "hint" }, "(2 mm if you say nothing)"), h("input", { name: "clear", value: wish.clear, on: { input: (event) => { wish.clear = event.target.value; } } }))),
    h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Cancel"), h("button", { class: "main-act", "aria-disabled": ready ? null : "true", on: { click: go } }, "Make them")));
}
