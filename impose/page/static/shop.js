// Shop: what the shop owns and knows. Each value stands with where it comes from.

import { h, hidden, say } from "./dom.js";
import { get, post } from "./server.js";
import { held, redraw, tell, notice, loadShop } from "./batch.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";
import { TRUE_FALSE } from "./fields.js";
import { openCalibration } from "./calibration.js";
import { openPrinters } from "./printers.js";
import { coloursCard, guideCard } from "./documents.js";

const page = { part: "papers", wrong: {}, placement: null, filter: "", stock: null, busy: null };
const PARTS = [["papers", "Papers and stock"], ["printers", "Printers"], ["presses", "Presses and pads"], ["figures", "Garments and figures"], ["prices", "Prices"], ["documents", "Pages to print"], ["settings", "How things are made"]];
const GENERAL = "Came with the program, an example or common practice"; // said once above, and not beside each value
const ORIGINS = { yours: "yours", measured: "measured", shipped: "example", "set for this run": "for now" };

export function enter() {
  const part = location.hash.slice(1);
  if (PARTS.some(([name]) => name === part)) page.part = part;
  loadShop();
}

// Send changes of the shop. What cannot be read is said beside the field `mark`.
async function send(ops, mark, words) {
  delete page.wrong[mark];
  try {
    held.shop = await post("/api/shop", { ops });
    say(words);
  } catch (error) {
    if (error.status === 422 || error.status === 400) page.wrong[mark] = [error.what, error.remedy].filter(Boolean).join(" ");
    else tell(error);
  }
  redraw();
}

export function view() {
  const { shop } = held;
  const view_ = { papers, printers, presses, figures, prices, documents, settings }[page.part];
  return h("div", { key: "shop" }, h("div", { class: "head" }, h("h1", {}, "Shop")),
    h("div", { class: "shop" }, h("nav", { "aria-label": "Parts of the shop", class: "parts" }, PARTS.map(([name, title]) => h("a", { href: `#${name}`, "aria-current": page.part === name ? "true" : null, on: { click: (event) => { event.preventDefault(); page.part = name; history.replaceState(null, "", `#${name}`); redraw(); } } }, title))),
      h("div", { class: "stack" }, shop && h("p", { class: "quiet small" }, h("span", { class: "tag warning" }, "example"), " came with the program: write your own over it."), shop ? view_(shop) : h("p", { class: "waiting" }, "Looking into the shop."))));
}

const origin = (one) => h("p", { class: "origin small" }, h("span", { class: `tag ${one.origin === "shipped" ? "warning" : one.origin === "measured" ? "good" : "note"}` }, ORIGINS[one.origin] ?? one.origin), " ", one.from !== GENERAL && h("span", { class: "quiet" }, one.from));

// One value: a field, and where the value comes from. It is sent when the field is left.
function valueField(mark, one, save) {
  const sent = (event) => { if (event.target.value !== one.value) save(event.target.value); };
  if (one.enter === false) return h("div", { key: mark, class: "value" }, h("p", {}, h("span", { class: "strong" }, one.title), h("br"), one.value || "none"), origin(one));
  const choices = one.kind === "yes-no" && !one.choices?.length ? TRUE_FALSE : one.choices;
  const input = choices?.length
    ? h("select", { name: mark, value: String(one.value ?? ""), on: { change: sent } }, !choices.some((choice) => String(choice.value ?? choice) === String(one.value ?? "")) && h("option", { value: String(one.value ?? "") }, one.value || "not said"), choices.map((choice) => h("option", { value: choice.value ?? choice }, choice.title ?? choice)))
    : h("input", { name: mark, value: one.value ?? "", "aria-invalid": page.wrong[mark] ? "true" : null, "aria-describedby": page.wrong[mark] ? `wrong-${mark}` : null, on: { change: sent } });
  return h("div", { key: mark, class: "value" }, h("label", { class: "field" }, h("span", {}, one.title, one.unit && h("span", { class: "quiet" }, `, ${one.unit}`)), input),
    page.wrong[mark] && h("p", { id: `wrong-${mark}`, class: "wrong" }, page.wrong[mark]), one.help && h("p", { class: "quiet small" }, one.help), origin(one));
}

// ---- papers

function papers(shop) {
  const mine = shop.papers.filter((one) => one.offered || one.counted || one.yours);
  const rest = shop.papers.filter((one) => !mine.includes(one));
  return [h("div", { key: "p", class: "card stack" }, h("h2", {}, "Papers"), h("p", { class: "lead" }, "Say what you pay and what you have. A paper that you never counted has no limit."),
    h("ul", { class: "papers-list" }, mine.map((one) => paperView(one, shop))),
    rest.length > 0 && h("details", {}, h("summary", {}, `Sizes that are sold, not in your shop (${rest.length})`), h("ul", { class: "papers-list" }, rest.map((one) => paperView(one, shop))))),
  h("details", { key: "new", class: "card" }, h("summary", {}, "Another paper"), newPaper()),
  h("details", { key: "history", class: "card", on: { toggle: (event) => { if (event.target.open) loadStock(); } } }, h("summary", {}, "What became of the paper"), history_())];
}

// The papers that every new batch may use.
function offerTick(one, shop) {
  const names = shop.papers.filter((paper) => paper.offered).map((paper) => paper.paper);
  const next = one.offered ? names.filter((name) => name !== one.paper) : [...names, one.paper];
  const set = () => (next.length ? send([{ op: "setting", name: "papers", value: next }], "offer", `${one.title} is ${one.offered ? "not used" : "used"} for new batches.`) : notice("Keep at least one paper."));
  return h("label", { class: "tick small" }, h("input", { type: "checkbox", checked: one.offered, on: { change: set } }), "use for batches", hidden(`: ${one.title}`));
}

function paperView(one, shop) {
  const mark = `cost-${one.paper}`;
  return h("li", { key: one.paper, class: "paper-row" },
    h("div", {}, h("h3", {}, one.title), h("p", { class: "quiet small figure" }, one.size)),
    valueField(mark, { ...one.cost, title: "Price", choices: null }, (cost) => send([{ op: "paper", paper: one.paper, cost }], mark, `${one.title}: price saved.`)),
    h("div", { class: "stack left" }, h("p", {}, h("span", { class: "quiet" }, "Left: "), h("span", { class: "strong figure" }, one.counted ? one.left : "not counted")), h("button", { class: "small", on: { click: () => countDialog(one) } }, "Count", hidden(` ${one.title}`)), offerTick(one, shop)),
    one.values?.length > 1 && h("details", { class: "whole" }, h("summary", {}, "Press this paper", hidden(`, ${one.title}`)), h("div", { class: "values" }, one.values.filter((value) => value.name !== "cost").map((value) => valueField(`${value.name}-${one.paper}`, value, (said) => send([{ op: "paper", paper: one.paper, values: { [value.name]: said } }], `${value.name}-${one.paper}`, `${value.title} saved.`))))));
}

function countDialog(one) {
  const said = { how: "set", amount: "", because: "", wrong: "" };
  const hows = [["set", "I have", "counted just now"], ["add", "I bought", "more than before"], ["waste", "Spoiled", "misfed, torn"], ...(one.counted ? [["stop", "Do not count it any more", ""]] : [])];
  const take = async (event) => {
    event.preventDefault();
    try {
      held.shop = await post("/api/shop", { ops: [{ op: "count", paper: one.paper, how: said.how, amount: said.amount, because: said.because }] });
      closeDialog(); notice(`${one.title} is counted.`); page.stock = null; redraw();
    } catch (error) { said.wrong = [error.what, error.remedy].filter(Boolean).join(" "); redrawDialog(); }
  };
  openDialog(() => h("form", { class: "dialog", on: { submit: take } }, h("h2", {}, `Count ${one.title}`),
    h("fieldset", { class: "stack" }, h("legend", { class: "unseen" }, "What happened"), hows.map(([how, label, about]) => h("label", { key: how, class: "tick" }, h("input", { type: "radio", name: "how", checked: said.how === how, on: { change: () => { said.how = how; redrawDialog(); } } }), h("span", {}, label, " ", h("span", { class: "quiet small" }, about))))),
    said.how !== "stop" && h("label", { class: "field" }, one.roll ? "How much, in metres" : "How many sheets", h("input", { name: "amount", inputmode: "decimal", required: true, on: { input: (event) => { said.amount = event.target.value; } } })),
    h("label", { class: "field" }, "Why ", h("span", { class: "hint" }, "(if you like)"), h("input", { name: "because", on: { input: (event) => { said.because = event.target.value; } } })),
    said.wrong && h("p", { class: "wrong", role: "alert" }, said.wrong),
    h("div", { class: "foot" }, h("button", { type: "button", on: { click: closeDialog } }, "Cancel"), h("button", { class: "main-act" }, "Save the count"))), `Count ${one.title}`);
}

const fresh = { size: "", title: "", cost: "" };
function newPaper() {
  const field = (name, label, hint) => h("label", { class: "field" }, label, h("input", { name: `new-${name}`, placeholder: hint, value: fresh[name], on: { input: (event) => { fresh[name] = event.target.value; } } }));
  const add = async (event) => {
    event.preventDefault();
    await send([{ op: "paper", new: fresh.size, title: fresh.title, cost: fresh.cost }], "new-paper", "The paper was added.");
    if (!page.wrong["new-paper"]) { Object.assign(fresh, { size: "", title: "", cost: "" }); redraw(); }
  };
  return h("form", { class: "stack", on: { submit: add } }, h("p", { class: "quiet" }, "Measure a sheet: A3+ and Super B are sold in several sizes."),
    h("div", { class: "fields" }, field("size", "Width × height", "329 × 483 mm"), field("title", "What you call it", "A3+"), field("cost", "Price of a sheet", "0.55")),
    page.wrong["new-paper"] && h("p", { class: "wrong", role: "alert" }, page.wrong["new-paper"]), h("p", {}, h("button", {}, "Add the paper")));
}

async function loadStock() {
  try { page.stock = (await get("/api/shop/stock")).history; } catch (error) { tell(error); }
  redraw();
}
const history_ = () => (page.stock === null ? h("p", { class: "quiet" }, "Reading.") : page.stock.length === 0 ? h("p", { class: "quiet" }, "Nothing was counted yet.")
  : h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "History of the paper" }, h("table", {}, h("thead", {}, h("tr", {}, ["When", "Paper", "Change", "Left", "Why"].map((one) => h("th", { scope: "col" }, one)))),
    h("tbody", {}, page.stock.map((one, at) => h("tr", { key: at }, h("td", { class: "figure" }, one.at), h("td", {}, one.paper), h("td", { class: "figure end" }, one.change), h("td", { class: "figure end" }, one.left), h("td", {}, one.why))))))); 

// ---- printers and presses

function device(one, kind, list) {
  const name = one[kind];
  const change_ = (value) => (said) => send([{ op: kind, [kind]: name, values: { [value.name]: said } }], `${kind}-${name}-${value.name}`, `${value.title} saved.`);
  return h("section", { key: name, class: "card stack" }, h("div", { class: "line apart" }, h("h2", {}, one.title, " ", one.chosen && h("span", { class: "tag good" }, "in use"), " ", kind === "printer" && (one.chosen || one.yours || one.measured) && h("span", { class: `tag ${one.measured ? "good" : "warning"}` }, one.measured ? "measured" : "not measured")),
    h("span", { class: "line" }, !one.chosen && h("button", { class: "small", on: { click: () => send([{ op: "setting", name: kind, value: name }], "device", `${one.title} is in use now.`) } }, "Use this", hidden(` ${kind}: ${one.title}`)),
      kind === "printer" && h("button", { class: "small", on: { click: () => openPrinters(name) } }, one.address ? "Another address" : "Find it", hidden(`: ${one.title}`)),
      kind === "printer" && h("button", { class: one.chosen && !one.measured ? "small main-act" : "small", on: { click: () => openCalibration(one, list) } }, "Measure", hidden(` ${one.title}`)))),
  kind === "printer" && !one.yours && h("p", { class: "quiet" }, one.note ? `An example. ${one.note}` : "An example: use it until yours is measured."),
  kind === "printer" && one.chosen && h("p", { class: "quiet" }, one.address ? `Sheets are sent to it at ${one.address}.` : "Nothing is sent to it: it is not found yet."),
  h("details", one.chosen ? { open: true } : {}, h("summary", {}, "Values", hidden(` of ${one.title}`)), h("div", { class: "values" }, one.values.map((value) => valueField(`${kind}-${name}-${value.name}`, value, change_(value))))));
}
const printers = (shop) => [h("p", { key: "lead", class: "lead" }, "A printer leaves a blank edge, and a print of 200 mm is not always 200 mm long. Measure yours once, with a steel rule."), h("p", { key: "another" }, h("button", { on: { click: () => openPrinters() } }, "Find a printer to print to")), ...[...shop.printers].sort((one, other) => Number(other.chosen) - Number(one.chosen)).map((one) => device(one, "printer", shop))];
const presses = (shop) => [h("p", { key: "lead", class: "lead" }, "The size of the platen decides what is pressed in one go. Times and temperatures are starting points: test them on scrap."), ...shop.presses.map((one) => device(one, "press", shop))];

// ---- garments and the shop's own figures

function figures(shop) {
  const chosen = shop.placements.find((one) => one.placement === page.placement) ?? shop.placements[0];
  const groups = Map.groupBy ? Map.groupBy(chosen.values, (one) => one.garment) : group(chosen.values);
  return [h("section", { key: "f", class: "card stack" }, h("h2", {}, "Where prints go, and how large"), h("p", { class: "lead" }, "Measure a garment and write your own figure. It is used from then on."),
    h("label", { class: "field measure" }, "Place", h("select", { value: chosen.placement, on: { change: (event) => { page.placement = event.target.value; redraw(); } } }, shop.placements.map((one) => h("option", { value: one.placement }, one.title)))),
    [...groups].map(([garment, values]) => h("fieldset", { key: garment, class: "figures" }, h("legend", { class: "strong" }, garment), h("div", { class: "values" }, values.map((one) => {
      const mark = `figure-${chosen.placement}-${garment}-${one.what}`;
      return valueField(mark, one, (length) => send([{ op: "figure", placement: chosen.placement, garment, what: one.what, length }], mark, `${one.title} saved.`));
    })))), ownFigure(chosen)),
  shop.garments?.length > 0 && h("section", { key: "g", class: "card stack" }, h("h2", {}, "Garments"), shop.garments.map((one) => h("details", { key: one.name }, h("summary", {}, one.title), h("div", { class: "values" }, one.values.map((value) => valueField(`garment-${one.name}-${value.name ?? value.title}`, { ...value, enter: false }, () => {}))))))];
}
function group(values) { const all = new Map(); for (const one of values) all.set(one.garment, [...(all.get(one.garment) ?? []), one]); return all; }

const own = { garment: "", what: "drop", length: "" };
function ownFigure(chosen) {
  const add = (event) => { event.preventDefault(); send([{ op: "figure", placement: chosen.placement, garment: own.garment, what: own.what, length: own.length }], "own-figure", "Your figure is saved."); };
  return h("details", {}, h("summary", {}, "A figure for another garment"), h("form", { class: "stack", on: { submit: add } }, h("div", { class: "fields" },
    h("label", { class: "field" }, "Garment", h("input", { name: "own-garment", placeholder: "hoodie youth", value: own.garment, on: { input: (event) => { own.garment = event.target.value; } } })),
    h("label", { class: "field" }, "Figure", h("select", { value: own.what, on: { change: (event) => { own.what = event.target.value; redraw(); } } }, [["drop", "down from collar or seam"], ["across", "across from the centre"], ["width", "width"], ["height", "height"]].map(([value, title]) => h("option", { value }, title)))),
    h("label", { class: "field" }, "Measured", h("input", { name: "own-length", placeholder: "140 mm", value: own.length, on: { input: (event) => { own.length = event.target.value; } } }))),
  page.wrong["own-figure"] && h("p", { class: "wrong", role: "alert" }, page.wrong["own-figure"]), h("p", {}, h("button", {}, "Save the figure"))));
}

const documents = (shop) => [guideCard(shop), coloursCard()];

// ---- prices

const freshPrice = { blank: "", cost: "", from: "", off: "" };
function prices(shop) {
  const { values, blanks, steps, currency } = shop.prices;
  const save = (op, mark, words) => send([{ op: "price", ...op }], mark, words);
  // The fields are free for the next line at once: what is typed while this one is saved is kept. A refused one comes back.
  const add = (names, op, mark, words) => async (event) => {
    event.preventDefault();
    const sent = op(), was = names.map((name) => freshPrice[name]);
    for (const name of names) freshPrice[name] = "";
    redraw();
    await save(sent, mark, words);
    if (page.wrong[mark] && names.every((name) => !freshPrice[name])) names.forEach((name, at) => { freshPrice[name] = was[at]; });
    redraw();
  };
  const field = (name, label, hint) => h("label", { class: "field" }, label, h("input", { name: `price-${name}`, placeholder: hint, value: freshPrice[name], on: { input: (event) => { freshPrice[name] = event.target.value; } } }));
  const row = (mark, title, value, unit, op, words) => valueField(mark, { title, value, unit, kind: "money", origin: "yours", from: "Your own", help: "" }, (said) => save(op(said), mark, words));
  return [h("section", { key: "rates", class: "card stack" }, h("h2", {}, "What you charge by"), h("p", { class: "lead" }, "A cost that you do not enter is not known, and there is no price until it is. Enter 0 where you have none."),
    h("div", { class: "values" }, values.map((one) => valueField(`price-${one.name}`, one, (value) => save({ name: one.name, value }, `price-${one.name}`, `${one.title} saved.`))))),
  h("section", { key: "blanks", class: "card stack" }, h("h2", {}, "What you pay for blanks"), h("p", { class: "quiet" }, "By kind; by group, size and colour where they cost something else."),
    h("div", { class: "values" }, blanks.map((one) => row(`blank-${one.name}`, one.name, one.cost, currency, (cost) => ({ blank: one.name, cost }), `${one.name} saved.`))),
    h("form", { class: "line", on: { submit: add(["blank", "cost"], () => ({ blank: freshPrice.blank, cost: freshPrice.cost }), "new-blank", "The blank was added.") } }, field("blank", "Garment", "hoodie adult 2XL"), field("cost", `Price, ${currency}`, "18.00"), h("button", { class: "low" }, "Add it")),
    page.wrong["new-blank"] && h("p", { class: "wrong", role: "alert" }, page.wrong["new-blank"])),
  h("section", { key: "steps", class: "card stack" }, h("h2", {}, "Less for many"), h("p", { class: "quiet" }, "Taken off each garment's price, from so many garments in an order."),
    h("div", { class: "values" }, steps.map((one) => row(`step-${one.from}`, `From ${one.from} garments`, one.off, "%", (off) => ({ from: one.from, off }), "Saved."))),
    h("form", { class: "line", on: { submit: add(["from", "off"], () => ({ from: freshPrice.from, off: freshPrice.off }), "new-step", "The step was added.") } }, field("from", "From so many garments", "12"), field("off", "Taken off, %", "5"), h("button", { class: "low" }, "Add it")),
    page.wrong["new-step"] && h("p", { class: "wrong", role: "alert" }, page.wrong["new-step"]))];
}

// ---- settings

function settings(shop) {
  const groups = group(shop.settings.map((one) => ({ ...one, garment: one.group })));
  return [...groups].map(([title, values]) => h("section", { key: title, class: "card stack" }, h("h2", {}, title), h("div", { class: "values" }, values.map((one) => valueField(`setting-${one.name}`, one, (value) => send([{ op: "setting", name: one.name, value }], `setting-${one.name}`, `${one.title} saved.`))))));
}

