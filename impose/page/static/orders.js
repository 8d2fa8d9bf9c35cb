// Orders: who gets what. A garment is drawn; a picture dropped on a place of it makes a print.

import { h, plural, say, askAgain } from "./dom.js";
import { get } from "./server.js";
import { held, base, change, redraw, step, takePictures, taking, notice } from "./batch.js";
import { garmentView } from "./garment.js";
import { listOrders, allGarments, garmentOfRow, printRows, titleOfPlace, smallOf, nameOfArt, findingsOf, severityClass, severityWords, worst, sizesOf, splitWords } from "./lots.js";
import { printCard } from "./print.js";
import { findingView } from "./findings.js";
import { openDialog, closeDialog } from "./dialog.js";
import * as table from "./table.js";
import * as roster from "./roster.js";

const board = { row: null, draft: null, aim: { face: null, placement: null }, picked: null, asTable: false, open: new Set() };
let lastDrawing = null;
const drawings = new Map(); // what the program draws for a garment in words
let planned = null; // the chosen garment as it was planned last

// ---- which garment is drawn

const newDraft = () => {
  const { kind, group } = held.kinds.default;
  return { order: freeOrder(), wearer: "", kind: held.lastKind ?? kind, group, size: sizesOf(kind, group).includes("M") ? "M" : sizesOf(kind, group)[0] ?? "" };
};
// A new garment has an order from the start: its name keeps the prints of one garment together.
function freeOrder() {
  const taken = new Set(held.batch.rows.map((row) => row.cells.order));
  let at = 1;
  while (taken.has(`Order ${at}`)) at += 1;
  return `Order ${at}`;
}
const words = (draft) => [draft.kind, draft.group, draft.size].filter(Boolean).join(" ");

function chosenGarment() {
  // A garment that nobody asked for or touched gives way to those that came from elsewhere.
  if (board.draft?.untouched && held.batch.rows.length) board.draft = null;
  if (board.draft) return { draft: true, key: "draft", order: board.draft.order, wearer: board.draft.wearer, garment: words(board.draft), kit: "", rows: [] };
  const found = board.pinned ? pinnedGarment() : board.row && garmentOfRow(board.row);
  if (found) return found;
  const first = allGarments()[0];
  if (first) { board.row = first.rows[0].id; return first; }
  board.draft = { ...newDraft(), untouched: true };
  return chosenGarment();
}

// While its name is typed a garment keeps its rows, even where it is called like another for a moment.
function pinnedGarment() {
  const rows = held.batch.rows.filter((row) => board.pinned.includes(row.id));
  const { order = "", wearer = "", garment = "" } = rows[0]?.cells ?? {};
  return rows.length ? { key: garmentOfRow(rows[0].id).key, order, wearer, garment, kit: "", rows } : null;
}

const drawnAs = (garment) => garment.garment || (garment.kit ? kitGarment(garment) : "") || "";
const kitGarment = (garment) => {
  const kit = printRows(garment)[0]?.cells.garment ?? "";
  const first = garment.rows[0]?.cells.garment ?? "";
  return [kit, first].filter(Boolean).join(" ");
};

function drawingOf(garment) {
  const text = drawnAs(garment);
  if (!drawings.has(text)) {
    drawings.set(text, null);
    get(`/api/garments/drawing?garment=${encodeURIComponent(text)}`)
      .then((made) => { drawings.set(text, made); redraw(); }, (error) => { drawings.set(text, { faces: [], title: text, wrong: error.what }); redraw(); });
  }
  return (lastDrawing = drawings.get(text) ?? lastDrawing); // the one before stays until the new one is there
}

// The garment as it was planned: the faces that hold any print of these rows. Only the one that is looked at is drawn
// by the program; until it is drawn anew, what was drawn before is shown.
const planCache = new Map();
let lastPlanned = [], plannedIn = "";
function plannedOf(garment) {
  const ids = garment.kit ? [board.member ?? garment.rows[0]?.id].filter(Boolean) : garment.rows.map((row) => row.id);
  const faces = new Map();
  for (const face of fetchPlanned(ids).flatMap((one) => one.faces)) if (!faces.has(face.face)) faces.set(face.face, face);
  return { faces: [...faces.values()] };
}

function fetchPlanned(ids) {
  const plan = held.plan?.sheets.length ? held.plan.plan : 0;
  if (!plan || !ids.length) return [];
  const mark = ids.join(",");
  if (plannedIn !== base()) { plannedIn = base(); planCache.clear(); lastPlanned = []; } // rows of another batch
  const of = (one) => one.rows?.some((id) => ids.includes(id)) || one.faces.some((face) => face.prints.some((print) => ids.includes(print.row)));
  if (planCache.size > 50) planCache.clear();
  const kept = planCache.get(mark) ?? { asked: 0, garments: lastPlanned.filter(of) };
  planCache.set(mark, kept);
  if (kept.asked !== plan) {
    kept.asked = plan;
    get(`${base()}/garments?row=${encodeURIComponent(mark)}&count=8`).then((made) => {
      if (kept.asked !== plan) return; // a newer one was asked for
      kept.garments = lastPlanned = made.garments;
      redraw();
    }, () => { kept.asked = 0; });
  }
  return kept.garments;
}

// The faces to draw: the program's drawing with its prints where there is one, else the outline with what is coming.
function facesOf(garment) {
  const outline = drawingOf(garment);
  planned = plannedOf(garment);
  const rows = printRows(garment);
  return (outline?.faces ?? []).map((face) => {
    const made = planned.faces.find((one) => one.face === face.face);
    const shown = new Set((made?.prints ?? []).flatMap((one) => [one.row, one.kit_row]));
    const on = (placement) => rows.filter((row) => row.cells.placement === placement);
    const places = face.places.map((one) => ({ ...one, taken: on(one.placement).map(whatPrints).join(", ") }));
    const coming = places.flatMap((one) => on(one.placement).filter((row) => row.cells.art && !shown.has(row.id))
      .map((row) => ({ key: row.id, href: smallOf(row.cells.art, 480), box: one.box, turned: one.turned })));
    return { ...face, ...(made ? { svg: made.svg, view: made.view } : {}), places, coming: coming.filter((one) => one.href) };
  });
}

export const whatPrints = (row) => (row.cells.art ? nameOfArt(row.cells.art) : row.cells.words ? `“${row.cells.words}”` : "nothing yet");

// ---- what may be done on the drawing

const aim = (face, placement) => {
  if (board.aim.placement === placement && board.aim.face === face) return;
  board.aim = { face, placement };
  redraw();
};

async function putArt(garment, placement, art) {
  const there = printRows(garment).find((row) => row.cells.placement === placement);
  const title = titleOfPlace(placement);
  board.picked = null;
  if (there) {
    await change(`Picture on ${title}`, [{ op: "set", ...tableOf(garment), id: there.id, column: "art", value: art }, { op: "set", ...tableOf(garment), id: there.id, column: "words", value: "" }]);
    notice(`${title} has a new picture: ${nameOfArt(art)}.`, { label: "Undo", run: () => step("undo") });
    return;
  }
  await addPrint(garment, { art, placement });
}

const tableOf = (garment) => (garment.kit ? { table: "kits" } : {});

async function addPrint(garment, cells) {
  const rows = printRows(garment);
  const own = garment.kit ? { kit: garment.kit, garment: rows[0]?.cells.garment } : { order: garment.order, wearer: garment.wearer, garment: garment.garment, copies: rows[0]?.cells.copies };
  const all = Object.fromEntries(Object.entries({ ...own, ...cells }).filter(([, value]) => value));
  const after = rows.length ? { after: rows[rows.length - 1].id } : {};
  const ids = await change(`Print on ${titleOfPlace(cells.placement)}`, [{ op: "add", ...tableOf(garment), new: "n", ...after, cells: all }]);
  if (!ids) return;
  if (!garment.kit) { board.row = ids.n; board.draft = null; }
  say(`${titleOfPlace(cells.placement)}: ${cells.art ? nameOfArt(cells.art) : cells.words}.`);
  redraw();
}

async function dropOn(garment, placement, carried) {
  aim(null, null);
  if (!placement) return;
  const art = carried.getData("text/x-impose-art");
  if (art) { putArt(garment, placement, art); return; }
  const taken = await takePictures(carried.files);
  if (taken.length === 1) putArt(garment, placement, taken[0].art);
  else if (taken.length > 1) askMany(garment, placement, taken.map((one) => one.art));
}

// Let go beside the drawing, a picture is taken all the same, and its place is asked for.
async function dropBeside(carried) {
  const art = carried.getData("text/x-impose-art") || (await takePictures(carried.files)).map((one) => one.art)[0];
  if (!art) return;
  board.picked = art;
  notice(`${nameOfArt(art)} is picked. Now choose its place on the garment.`);
}

const besides = {
  dragover: (event) => { if (event.defaultPrevented) return; event.preventDefault(); event.dataTransfer.dropEffect = "copy"; },
  drop: (event) => { if (event.defaultPrevented) return; event.preventDefault(); dropBeside(event.dataTransfer); },
};

function askMany(garment, placement, arts) {
  const title = titleOfPlace(placement);
  openDialog(() => h("div", { class: "dialog" },
    h("h2", {}, `${arts.length} pictures on one place`),
    h("p", {}, `A garment has one ${title.toLowerCase()}. What are these pictures?`),
    h("div", { class: "stack" },
      h("button", { class: "main-act", on: { click: () => { closeDialog(); oneEach(garment, placement, arts); } } }, `One garment for each: ${arts.length} × ${drawingOf(garment)?.title ?? garment.garment}`),
      h("button", { on: { click: closeDialog } }, "Keep them with the pictures, I place them one by one"))), "Several pictures");
}

async function oneEach(garment, placement, arts) {
  const ops = arts.map((art, at) => ({ op: "add", new: `n${at}`, cells: Object.fromEntries(Object.entries({ order: garment.order, wearer: nameOfArt(art).replace(/\.[^.]*$/, ""), garment: garment.garment || drawnAs(garment), art, placement }).filter(([, value]) => value)) }));
  const ids = await change(`${arts.length} garments`, ops);
  if (ids) { board.draft = null; board.row = ids.n0; redraw(); }
}

function choosePlace(garment, placement) {
  if (!placement) return;
  if (board.picked) { putArt(garment, placement, board.picked); return; }
  const there = printRows(garment).find((row) => row.cells.placement === placement);
  if (there) {
    const card = document.getElementById(`print-${there.id}`);
    card?.scrollIntoView({ block: "nearest" });
    card?.querySelector("input, select, button")?.focus();
    return;
  }
  placeDialog(garment, placement);
}

function placeDialog(garment, placement) {
  const title = titleOfPlace(placement);
  const style = held.columns.find((one) => one.name === "font")?.choices ?? [];
  const said = { words: "", font: "" };
  const pick = (art) => { closeDialog(); putArt(garment, placement, art); };
  openDialog(() => h("div", { class: "dialog" },
    h("h2", {}, title),
    h("p", { class: "quiet" }, "What is printed here?"),
    held.batch.art.length > 0 && h("ul", { class: "pictures" }, held.batch.art.map((one) => h("li", { key: one.art }, pictureButton(one, true, null, () => pick(one.art))))),
    h("label", { class: "button" }, "Choose a picture from this computer",
      h("input", { type: "file", class: "unseen", accept: accepted(), on: { change: async (event) => { const [made] = await takePictures(event.target.files); if (made) pick(made.art); } } })),
    h("form", { class: "stack", on: { submit: (event) => { event.preventDefault(); if (!said.words.trim()) return; closeDialog(); addPrint(garment, { words: said.words, font: said.font, placement }); } } },
      h("label", { class: "field" }, "Or words, set in letters", h("input", { name: "words", dir: "auto", placeholder: garment.kit ? "{name} or {number}, or words for all" : "", on: { input: (event) => { said.words = event.target.value; } } })),
      style.length > 0 && h("label", { class: "field" }, "Style of the letters", h("select", { on: { change: (event) => { said.font = event.target.value; } } }, h("option", { value: "" }, "Usual"), style.map((one) => h("option", { value: one.value }, one.title)))),
      h("div", { class: "foot" }, h("button", { type: "button", on: { click: closeDialog } }, "Cancel"), h("button", { type: "submit" }, "Put the words here")))), title);
}

const accepted = () => held.state.formats.map((one) => `.${one}`).join(",");

// ---- the views

export const enter = () => {};

export function view() {
  if (board.asTable) return h("div", { key: "table" }, head(), table.view());
  const garment = chosenGarment();
  return h("div", { key: "drawn" }, head(), pictures(garment), h("div", { class: "orders" }, who(garment), boardView(garment), prints(garment)));
}

function head() {
  const { undo, redo } = held.batch;
  const button = (way, label, title) => h("button", { class: "small", "aria-disabled": title ? null : "true", "aria-label": title ? `${label}: ${title}` : label, title: title ?? "", on: { click: () => step(way) } }, label);
  const mode = (asTable, label) => h("button", { class: "small", "aria-pressed": String(board.asTable === asTable), on: { click: () => { board.asTable = asTable; redraw(); } } }, label);
  return h("div", { class: "head" }, h("h1", {}, "Orders"),
    h("div", { class: "line", role: "group", "aria-label": "Shown as" }, mode(false, "Drawn"), mode(true, "As a table")),
    h("div", { class: "line" }, button("undo", "Undo", undo), button("redo", "Redo", redo)),
    h("a", { class: "button main-act do", href: "/sheets" }, "See the sheets"));
}

function pictureButton(one, used, pressed, run) {
  return h("button", {
    class: "picture", "aria-pressed": pressed === null ? null : String(pressed), draggable: "true", title: nameOfArt(one.art),
    on: { click: run, dragstart: (event) => { event.dataTransfer.setData("text/x-impose-art", one.art); event.dataTransfer.effectAllowed = "copy"; } },
  }, taking.of > 3 ? h("span", { class: "wait" }) : h("img", { src: `${one.small}?side=160`, alt: "", loading: "lazy", width: 80, height: 64, draggable: "false", on: { error: askAgain } }),
    h("span", { class: "name" }, nameOfArt(one.art)), !used && h("span", { class: "free" }, "not placed"));
}

const lateLabel = (of) => `Taking in picture ${Math.min(taking.done + 1, of)} of ${of}`;

function pictures() {
  const { art } = held.batch;
  const pick = (one) => { board.picked = board.picked === one ? null : one; if (board.picked) say(`${nameOfArt(one)} is picked. Choose a place on the garment.`); redraw(); };
  const used = new Set([...held.batch.rows, ...held.batch.kits.rows].map((row) => row.cells.art));
  const sorted = [...art].sort((a, b) => used.has(a.art) - used.has(b.art));
  const carry = {
    dragover: (event) => { event.preventDefault(); event.dataTransfer.dropEffect = "copy"; },
    drop: (event) => { event.preventDefault(); takePictures(event.dataTransfer.files); },
  };
  return h("section", { class: "tray", "aria-label": "Pictures", on: carry },
    h("div", { class: "line apart" },
      h("p", {}, h("span", { class: "strong" }, "Pictures. "), h("span", { class: "quiet" }, board.picked ? "Now choose a place on the garment." : art.length ? "Drop more here, or straight on a place of the garment." : "Drop pictures on the garment below, or choose them here.")),
      h("label", { class: "button small" }, "Choose pictures", h("input", { type: "file", id: "files", multiple: true, class: "unseen", accept: accepted(), on: { change: (event) => { takePictures(event.target.files); event.target.value = ""; } } }))),
    taking.of > 3 && h("div", { class: "doing" }, h("progress", { max: taking.of, value: taking.done, "aria-label": lateLabel(taking.of) }), h("div", { class: "line apart" }, h("span", {}, lateLabel(taking.of)), h("button", { class: "small", on: { click: () => taking.stop() } }, "Stop"))),
    art.length > 0 && h("ul", { class: board.all ? "pictures all" : "pictures" }, sorted.slice(0, board.all ? undefined : 60).map((one) => h("li", { key: one.art }, pictureButton(one, used.has(one.art), board.picked === one.art, () => pick(one.art)))),
      art.length > 60 && !board.all && h("li", { key: "more" }, h("button", { on: { click: () => { board.all = true; redraw(); } } }, `Show all ${art.length}`))));
}

// The list of orders and garments.
function who(chosen) {
  const orders = listOrders();
  const wide = matchMedia("(min-width: 62rem)").matches;
  const list = h("div", { class: "stack" },
    orders.map((one) => h("section", { key: one.order, "aria-label": one.order || "Without an order name" },
      h("h2", { dir: "auto" }, one.order || "No order name"),
      h("ul", {}, one.garments.map((garment) => h("li", { key: garment.key }, whoButton(garment, chosen)))))));
  return h("section", { class: "who", "aria-label": "Who gets what" },
    h("button", { class: "wide-button", "aria-pressed": chosen.draft ? "true" : null, on: { click: () => { board.draft = newDraft(); redraw(); requestAnimationFrame(() => document.querySelector(".board input[name=order]")?.select()); } } }, "New garment"),
    orders.length > 0 && (wide ? list : h("details", {}, h("summary", {}, `All garments (${plural(orders.reduce((sum, one) => sum + one.garments.length, 0), "entry", "entries")})`), list)));
}

function whoButton(garment, chosen) {
  const found = worst(findingsOf([...garment.rows, ...(garment.kit ? printRows(garment) : [])].map((row) => row.id)));
  const name = garment.kit ? `Team: ${garment.kit}` : garment.wearer || garment.garment || "T-shirt";
  const about = garment.kit ? plural(garment.rows.length, "garment") : `${garment.wearer ? `${garment.garment || "T-shirt"}, ` : ""}${plural(garment.rows.length, "print")}`;
  return h("button", {
    class: "who-button", "aria-current": garment.key === chosen.key ? "true" : null,
    on: { click: () => { board.draft = null; board.member = null; board.row = garment.rows[0].id; redraw(); } },
  }, h("span", { class: "name", dir: "auto" }, name), h("span", { class: "quiet small" }, about),
    found && found !== "note" && h("span", { class: `tag ${severityClass(found)}` }, severityWords(found)));
}

function boardView(garment) {
  const outline = drawingOf(garment);
  const faces = facesOf(garment);
  const act = {
    aim, drop: (placement, carried) => dropOn(garment, placement, carried), choose: (placement) => choosePlace(garment, placement),
  };
  return h("section", { class: "card board", "aria-label": "The garment", on: besides },
    garment.kit ? kitHead(garment) : h("div", { class: "stack" }, h("h2", { dir: "auto" }, garment.draft ? "New garment" : garment.wearer || outline?.title || "Garment"), whoFields(garment), !garment.order && !garment.wearer && h("p", { class: "wrong" }, "Write an order or a name: it keeps these prints on one garment.")),
    outline?.wrong && h("p", { class: "wrong" }, outline.wrong),
    outline?.faces.length ? garmentView(faces, board.aim, act) : !outline && h("p", { class: "waiting" }, "Drawing the garment."),
    h("div", { class: "line acts" },
      printRows(garment).length > 0 && !garment.kit && h("button", { on: { click: () => roster.open(garment, outline, (row) => { board.draft = null; board.row = row; redraw(); }) } }, "For a team: paste names"),
      garment.kit && h("button", { on: { click: () => roster.open(garment, outline, (row) => { board.row = row; redraw(); }) } }, "Add names to the team"),
      !garment.draft && !garment.kit && h("button", { on: { click: () => sameAgain(garment) } }, "Same for one more"),
      !garment.draft && h("button", { class: "plain", on: { click: () => removeGarment(garment) } }, garment.kit ? "Remove the team" : "Remove the garment")));
}

// Order, wearer and garment of one garment: of the one that is begun, or of all its rows.
function whoFields(garment) {
  const draft = board.draft ?? splitWords(drawingOf(garment)?.garment ?? garment.garment);
  const set = (name, value) => {
    if (board.draft) { Object.assign(board.draft, { [name]: value, untouched: false }); redraw(); return; }
    change(`${name === "order" ? "Order" : "Name"} of one garment`, garment.rows.map((row) => ({ op: "set", id: row.id, column: name, value })), `${name}-${garment.rows[0].id}`);
  };
  const shape = (name, value) => {
    const next = { ...draft, [name]: value };
    const sizes = sizesOf(next.kind, next.group);
    if (!sizes.includes(next.size)) next.size = sizes.includes("M") ? "M" : sizes[0] ?? "";
    held.lastKind = next.kind;
    if (board.draft) { Object.assign(board.draft, next, { untouched: false }); redraw(); return; }
    change("Garment", garment.rows.map((row) => ({ op: "set", id: row.id, column: "garment", value: words(next) })));
  };
  const select = (label, name, choices) => h("label", { class: "field" }, label, h("select", { name, value: draft[name] ?? "", on: { change: (event) => shape(name, event.target.value) } },
    choices.map((one) => h("option", { value: one.value }, one.title))));
  const copies = garment.rows[0]?.cells.copies ?? "";
  const pin = board.draft ? {} : { focusin: () => { board.pinned = garment.rows.map((row) => row.id); }, focusout: () => { board.pinned = null; redraw(); } };
  return h("div", { class: "fields", on: pin },
    h("label", { class: "field" }, "Order", h("input", { name: "order", dir: "auto", value: garment.order, placeholder: "name or number", on: { input: (event) => set("order", event.target.value) } })),
    h("label", { class: "field" }, "For", h("input", { name: "wearer", dir: "auto", value: garment.wearer, placeholder: "who wears it", on: { input: (event) => set("wearer", event.target.value) } })),
    garment.draft ? null : h("label", { class: "field" }, "How many", h("input", { name: "copies", inputmode: "numeric", value: copies || "1", on: { change: (event) => change("How many", garment.rows.map((row) => ({ op: "set", id: row.id, column: "copies", value: event.target.value }))) } })),
    select("Garment", "kind", held.kinds.kinds.map((one) => ({ value: one.name, title: one.title }))),
    select("Cut", "group", held.kinds.groups.map((one) => ({ value: one.name, title: one.title }))),
    select("Size", "size", [...(draft.size ? [] : [{ value: "", title: "not said" }]), ...sizesOf(draft.kind, draft.group).map((one) => ({ value: one, title: one }))]));
}

function kitHead(garment) {
  const members = garment.rows;
  const shown = shownMember(garment);
  const name = (row) => [row.cells.name || row.cells.wearer, row.cells.number, row.cells.garment].filter(Boolean).join(" · ") || "No name";
  return h("div", { class: "stack" }, h("h2", { dir: "auto" }, `Team: ${garment.kit}`),
    h("p", { class: "quiet" }, `${plural(members.length, "garment")}, all with these prints. A change here is a change for all.`),
    h("label", { class: "field measure" }, "Shown on", h("select", { value: shown?.id, on: { change: (event) => { board.member = event.target.value; redraw(); } } }, members.map((row) => h("option", { value: row.id }, name(row))))));
}

const shownMember = (garment) => garment.rows.find((row) => row.id === board.member) ?? garment.rows[0];

// What is wrong with the garments of a team, one of each kind.
function teamFindings(garment) {
  const kinds = new Map(findingsOf(garment.rows.map((row) => row.id)).filter((one) => severityClass(one.severity) !== "note").map((one) => [one.kind, one]));
  return [...kinds.values()].slice(0, 4).map((one) => findingView(one, { short: true }));
}

function prints(garment) {
  const rows = printRows(garment);
  const seen = planned;
  return h("section", { class: "prints", "aria-label": "Prints of this garment" },
    h("h2", {}, rows.length ? plural(rows.length, "print") : "Prints"),
    rows.length === 0 && h("p", { class: "quiet" }, "Drop a picture on a place of the garment. With the keyboard: choose a place by its name."),
    garment.kit && teamFindings(garment),
    rows.map((row) => printCard(row, garment, seen, garment.kit ? shownMember(garment) : row)));
}

async function sameAgain(garment) {
  const after = garment.rows[garment.rows.length - 1].id; // each is put there, so the last comes first
  const wearer = garment.wearer ? `${garment.wearer} 2` : "2";
  const ops = garment.rows.map((row, at) => ({ op: "add", new: `n${at}`, after, cells: { ...row.cells, wearer } })).reverse();
  const ids = await change("Same for one more", ops);
  if (!ids) return;
  board.row = ids.n0;
  redraw();
  requestAnimationFrame(() => document.querySelector(".board input[name=wearer]")?.select());
  say("Made once more. Write who wears it.");
}

async function removeGarment(garment) {
  const next = allGarments().find((one) => one.key !== garment.key);
  await change(garment.kit ? "Team removed" : "Garment removed", [{ op: "remove", ids: garment.rows.map((row) => row.id) }]);
  board.row = next?.rows[0].id ?? null;
  notice(garment.kit ? "The team was removed." : "The garment was removed.", { label: "Undo", run: () => step("undo") });
  redraw();
}
