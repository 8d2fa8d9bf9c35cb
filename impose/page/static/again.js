// Making some of a batch again: by order, by sheet or print by print, with the reason.

import { h, plural } from "./dom.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";

const REASONS = [["spoiled", "Spoiled"], ["lost", "Lost"], ["unprinted", "Never printed: its paper comes back"]];

export function openChosen(press, made, run) {
  const wish = { kind: "orders", orders: new Set(), sheets: new Set(), ids: new Set(), because: "spoiled", newArt: false };
  openDialog(() => view(press, made, wish, run), "Make some of it again");
}

function view(press, made, wish, run) {
  const prints = press.garments.flatMap((one) => one.prints.map((print) => ({ ...print, who: [one.wearer || one.order, one.garment].filter(Boolean).join(", ") })));
  const orders = [...new Set(press.garments.map((one) => one.order).filter(Boolean))];
  const sheets = [...new Set(prints.map((one) => one.sheet))].sort((a, b) => a - b);
  const box = (set, value, label) => h("label", { key: value, class: "tick", dir: "auto" }, h("input", { type: "checkbox", checked: set.has(value), on: { change: (event) => { if (event.target.checked) set.add(value); else set.delete(value); redrawDialog(); } } }), label);
  const kinds = [["orders", "Whole orders", orders.length > 0], ["sheets", "Whole sheets", true], ["ids", "Single prints", true]].filter((one) => one[2]);
  const kind = kinds.some(([name]) => name === wish.kind) ? wish.kind : kinds[0][0];
  const list = { orders: () => orders.map((one) => box(wish.orders, one, one)), sheets: () => sheets.map((one) => box(wish.sheets, one, `Sheet ${one}`)), ids: () => prints.map((one) => box(wish.ids, one.transfer, `${one.transfer} ${one.title}, ${one.who}`)) }[kind]();
  const count = wish[kind].size;
  const go = () => { if (!count) return; closeDialog(); run({ [kind]: [...wish[kind]], because: wish.because, new_art: wish.newArt, onto: null }); };
  return h("div", { class: "dialog" }, h("h2", {}, "Make some of it again"),
    h("div", { class: "line", role: "group", "aria-label": "What" }, kinds.map(([name, label]) => h("button", { class: "small", "aria-pressed": String(kind === name), on: { click: () => { wish.kind = name; redrawDialog(); } } }, label))),
    h("div", { class: "scroll chosen-list stack", tabindex: "0", role: "region", "aria-label": "To choose from" }, list),
    h("label", { class: "field measure" }, "Why", h("select", { value: wish.because, on: { change: (event) => { wish.because = event.target.value; } } }, REASONS.map(([value, title]) => h("option", { value }, title)))),
    h("label", { class: "tick" }, h("input", { type: "checkbox", checked: wish.newArt, on: { change: (event) => { wish.newArt = event.target.checked; } } }), "Take the pictures as they are now, if they were changed"),
    h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Cancel"), h("button", { class: "main-act", "aria-disabled": count ? null : "true", on: { click: go } }, count ? `Make ${plural(count, { orders: "order", sheets: "sheet", ids: "print" }[kind])} again` : "Make again")));
}
