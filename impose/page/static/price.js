// What to charge for a batch, its offers, and a new batch like it.

import { h, hidden, plural } from "./dom.js";
import { post, follow } from "./server.js";
import { base, notice, openBatch, route, tell } from "./batch.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";

let asked = null;

export async function openPrice(made) {
  asked = { made, doing: { says: "", done: 0, of: 0 }, result: null, wrong: "" };
  const mine = asked;
  openDialog(view, "What to charge", { wide: true, onClose: () => { mine.work?.stop(); asked = null; } });
  await reckon({});
}

async function reckon(wish) {
  const mine = asked;
  mine.wrong = ""; mine.busy = true; redrawDialog();
  try {
    mine.work = follow(await post(`${base()}/made/${mine.made.id}/price`, wish), (told) => { mine.doing = told; redrawDialog(); });
    mine.result = (await mine.work.work) ?? mine.result;
  } catch (error) { mine.wrong = [error.what, error.remedy].filter(Boolean).join(" "); mine.differs = /already/.test(error.what ?? ""); }
  mine.work = null; mine.busy = false;
  redrawDialog();
}

const order = (one, code) => h("section", { key: one.title, class: "stack" }, h("h3", { dir: "auto" }, one.title, h("span", { class: "quiet small" }, ` ${plural(one.garments, "garment")}, ${one.minutes} min at the press`)),
  h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": `Prices of ${one.title}` }, h("table", {}, h("thead", {}, h("tr", {}, ["Garment", "How many", `Each, ${code}`, `Sum, ${code}`].map((title) => h("th", { scope: "col" }, title)))),
    h("tbody", {}, one.lines.map((line, at) => h("tr", { key: at }, h("th", { scope: "row", dir: "auto" }, line.garment), h("td", { class: "end figure" }, line.count), h("td", { class: "end figure" }, line.each ?? "not known"), h("td", { class: "end figure" }, line.amount ?? "not known"))),
      one.total && [["Price", one.net], ["Tax", one.tax], ["To charge", one.total]].map(([title, amount]) => h("tr", { key: title }, h("th", { scope: "row", colspan: 3 }, title), h("td", { class: "end figure strong" }, amount)))))));

function view() {
  const { result, doing, wrong, busy, differs } = asked ?? {};
  const offers = result?.offers ?? [];
  return h("div", { class: "dialog" }, h("h2", {}, "What to charge"),
    !result && !wrong && h("div", { class: "doing" }, h("progress", { "aria-label": "Reckoning", max: doing?.of || 1, value: doing?.of ? doing.done : null }), h("p", { class: "quiet" }, doing?.says || "Reckoning.")),
    wrong && h("p", { class: "wrong", role: "alert" }, wrong),
    result?.missing.length > 0 && h("section", { class: "said warning stack" }, h("p", { class: "strong" }, "No price yet: these costs are not known."), h("ul", { class: "stack" }, result.missing.map((one, at) => h("li", { key: at }, one.what, " ", h("span", { class: "quiet" }, one.remedy)))), h("p", {}, h("a", { class: "button small", href: "/shop#prices", on: { click: closeDialog } }, "To the prices"))),
    result && !result.charged && h("p", { class: "said" }, "Nothing is charged: these prints are made again."),
    result?.orders.map((one) => order(one, result.currency)),
    result && h("p", {}, `What it costs you: ${result.costs} ${result.currency}${result.missing.length ? ", as far as it is known" : ""}. `, result.total && h("span", { class: "strong" }, `To charge in all: ${result.total} ${result.currency}.`)),
    result && h("p", { class: "quiet small" }, result.spoilage, " ", result.note),
    offers.length > 0 && h("section", { class: "stack" }, h("h3", {}, "Offers"), h("p", { class: "quiet small" }, "They show prices, never costs."), h("ul", { class: "files" }, offers.map((one) => h("li", { key: one.name, class: "line apart file" }, h("span", {}, one.title), h("span", { class: "line" }, h("a", { class: "button small", href: one.url, target: "_blank", rel: "noopener" }, "Look", hidden(`: ${one.title}, opens a new tab`)), h("a", { class: "button small", href: `${one.url}?save=1`, download: one.name }, "Save", hidden(`: ${one.title}`))))))),
    h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Close"),
      differs && h("button", { "aria-disabled": busy ? "true" : null, on: { click: () => !busy && reckon({ write: true, replace: true }) } }, "Write them anew"),
      result?.charged && !result.missing.length && h("button", { class: "main-act", "aria-disabled": busy ? "true" : null, on: { click: () => !busy && reckon({ write: true }) } }, offers.length ? "Write the offers again" : "Write an offer for each order")));
}

// ---- a new batch like this one

export function openAgainBatch(made, press) {
  const orders = [...new Set(press.garments.map((one) => one.order).filter(Boolean))];
  const wish = { name: "", orders: new Set(), roster: "", listed: false, art: false, wrong: "", busy: false };
  const go = async (event) => {
    event.preventDefault();
    if (wish.busy) return;
    wish.busy = true; wish.wrong = ""; redrawDialog();
    try {
      const done = await post(`${base()}/made/${made.id}/again-batch`, { name: wish.name, orders: [...wish.orders], roster: wish.roster, listed_only: wish.listed, take_new_art: wish.art });
      closeDialog();
      await openBatch(done.id);
      notice([`${done.name} is begun.`, ...done.changed.slice(0, 3)].join(" "));
      route.go("/orders");
    } catch (error) { wish.wrong = [error.what, error.remedy].filter(Boolean).join(" "); wish.busy = false; redrawDialog(); if (!error.what) tell(error); }
  };
  openDialog(() => h("form", { class: "dialog", on: { submit: go } }, h("h2", {}, "A new batch like this one"),
    h("p", { class: "lead" }, "The same pictures, sizes and places, whatever has changed in the shop since."),
    h("label", { class: "field measure" }, "What it is called", h("input", { name: "name", dir: "auto", placeholder: "again", value: wish.name, on: { input: (event) => { wish.name = event.target.value; } } })),
    orders.length > 1 && h("fieldset", { class: "line" }, h("legend", { class: "strong" }, "Which orders ", h("span", { class: "hint" }, "(all, if none is ticked)")), orders.map((one) => h("label", { key: one, class: "tick", dir: "auto" }, h("input", { type: "checkbox", checked: wish.orders.has(one), on: { change: (event) => { if (event.target.checked) wish.orders.add(one); else wish.orders.delete(one); redrawDialog(); } } }), one))),
    h("label", { class: "field" }, "What differs ", h("span", { class: "hint" }, "(a line a garment, with a first line of headings: wearer, like, copies, name, number, garment)"), h("textarea", { name: "roster", rows: 5, dir: "auto", placeholder: "wearer,like,copies\nInge,,+4\nBo,Inge,1", value: wish.roster, on: { input: (event) => { wish.roster = event.target.value; redrawDialog(); } } })),
    wish.roster.trim() && h("label", { class: "tick" }, h("input", { type: "checkbox", checked: wish.listed, on: { change: (event) => { wish.listed = event.target.checked; } } }), "Only what is listed, not all the rest again"),
    h("label", { class: "tick" }, h("input", { type: "checkbox", checked: wish.art, on: { change: (event) => { wish.art = event.target.checked; } } }), "Take pictures as they are now, if they were changed"),
    wish.wrong && h("p", { class: "wrong", role: "alert" }, wish.wrong),
    h("div", { class: "foot" }, h("button", { type: "button", on: { click: closeDialog } }, "Cancel"), h("button", { class: "main-act", "aria-disabled": wish.busy ? "true" : null }, "Begin it"))), "A new batch like this one", { wide: true });
}
