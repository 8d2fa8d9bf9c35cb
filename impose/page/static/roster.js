// A team: the prints of one garment, and a list of names. Lines are pasted, shown as a table and only then taken.

import { h, plural, say } from "./dom.js";
import { post } from "./server.js";
import { held, base, change, notice, step, tell } from "./batch.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";
import { splitWords } from "./lots.js";

let team = null;
let waiting = null;

// The kit's own name, one that no other kit has.
function freeName(stem) {
  const taken = new Set(held.batch.kits.rows.map((row) => row.cells.kit));
  let name = stem, at = 2;
  while (taken.has(name)) name = `${stem} ${at++}`;
  return name;
}

export function open(garment, outline, done) {
  team = {
    garment, outline, done, text: "", answers: {}, read: null, busy: false, edits: {}, keep: Boolean(garment.wearer),
    kit: garment.kit || freeName(garment.order || "Team"),
    words: { name: { on: false, placement: "", font: "" }, number: { on: false, placement: "", font: "" } },
  };
  openDialog(view, "Names of a team", { wide: true, onClose: () => { team = null; } });
}

async function read() {
  if (!team?.text.trim()) { if (team) team.read = null; redrawDialog(); return; }
  const mine = team;
  mine.busy = true; redrawDialog();
  try {
    const said = await post(`${base()}/roster`, { text: mine.text, kit: mine.kit, order: mine.garment.order, ...(mine.garment.kit ? {} : { garment: kindWords() }), answers: mine.answers });
    mine.read = said;
    say(`${plural(said.rows.length, "line")} read. ${said.asks.length ? plural(said.asks.length, "question") : "No questions"}.`);
  } catch (error) { tell(error); }
  mine.busy = false;
  redrawDialog();
}

const later = () => { clearTimeout(waiting); waiting = setTimeout(read, 350); };

const TITLES = { name: "Name", number: "Number", garment: "Garment", copies: "How many", wearer: "For", order: "Order", note: "Note" };

// Questions that wait for an answer. One without answers of its own is answered line by line, from what stands there.
const byLine = (ask) => !ask.answers?.length;
const answered = (ask) => (byLine(ask) ? ask.lines.every((line) => `${ask.id}@${line}` in team.answers) : ask.id in team.answers);
const openAsks = () => team.read?.asks.filter((one) => !answered(one)) ?? [];
const numbersIn = (line) => [...new Set(team.read.rows.find((row) => row.line === line)?.text.match(/\d+/g) ?? [])];

function answerButton(id, answer, label) {
  return h("button", { key: `${id}${answer}`, class: "small", "aria-pressed": String(team.answers[id] === answer), on: { click: () => { team.answers[id] = answer; read(); } } }, label);
}

function askView(one) {
  return h("fieldset", { key: one.id, class: "said warning" }, h("legend", { class: "strong" }, one.question),
    byLine(one) ? one.lines.map((line) => h("div", { key: line, class: "line" }, h("span", { dir: "auto" }, team.read.rows.find((row) => row.line === line)?.text), numbersIn(line).map((number) => answerButton(`${one.id}@${line}`, number, number)), answerButton(`${one.id}@${line}`, "", "none")))
      : [one.lines?.length > 0 && h("p", { class: "small quiet" }, `${one.lines.length === 1 ? "Line" : "Lines"} ${one.lines.slice(0, 12).join(", ")}${one.lines.length > 12 ? " and more" : ""}`),
        h("div", { class: "line" }, one.answers.map((answer) => answerButton(one.id, answer.answer, answer.label)))]);
}

function view() {
  const { read: said, garment } = team;
  const columns = said ? [...new Set([...said.columns.filter(Boolean), ...said.rows.flatMap((row) => Object.keys(row.cells))])].filter((one) => !["kit", "order"].includes(one)) : [];
  const asks = said?.asks ?? [];
  const ready = said && said.rows.length > 0 && openAsks().length === 0 && !team.busy;
  return h("div", { class: "dialog" }, h("h2", {}, garment.kit ? `More names for ${team.kit}` : "Make it for a team"),
    h("p", { class: "lead" }, "Paste the list: one person on a line, with a name, a number and a size, in any order; or a size and how many, as in 5 x M. From a message or a spreadsheet."),
    h("div", { class: "fields" },
      !garment.kit && h("label", { class: "field" }, "Name of the team", h("input", { name: "kit", dir: "auto", value: team.kit, on: { input: (event) => { team.kit = event.target.value; later(); } } })),
      !garment.kit && wordsField("name", "Print the name"), !garment.kit && wordsField("number", "Print the number")),
    h("label", { class: "field" }, "The list", h("textarea", { name: "roster", rows: 5, dir: "auto", placeholder: "Ana 7 M\nBo 12 L", on: { input: (event) => { team.text = event.target.value; team.edits = {}; later(); } } })),
    asks.map(askView),
    team.busy && !said && h("p", { class: "quiet" }, "Reading the list."),
    said && said.rows.length > 0 && h("div", { class: "scroll roster", tabindex: "0", role: "region", "aria-label": "What was read" },
      h("table", {}, h("caption", { class: "unseen" }, "What was read. Correct it here before you take it."),
        h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "Line"), columns.map((one) => h("th", { key: one, scope: "col" }, TITLES[one] ?? one)), h("th", { scope: "col" }, "As pasted"))),
        h("tbody", {}, said.rows.map((row, at) => h("tr", { key: `${row.line}-${at}`, class: row.asks?.length ? "doubted" : "" }, h("td", { class: "figure quiet" }, row.line),
          columns.map((one) => h("td", { key: one }, h("input", { "aria-label": `${TITLES[one] ?? one}, line ${row.line}`, dir: "auto", value: cellOf(row, at, one), on: { input: (event) => { (team.edits[at] ??= {})[one] = event.target.value; } } }))),
          h("td", { class: "quiet small", dir: "auto" }, row.text, row.findings?.map((one, nth) => h("p", { key: nth, class: "is-warning" }, one)))))))),
    said?.cut && h("p", { class: "said warning" }, "Only the first 5,000 lines were read. Take them, then paste the rest."),
    garment.wearer && !garment.kit && h("label", { class: "tick" }, h("input", { type: "checkbox", checked: team.keep, on: { change: (event) => { team.keep = event.target.checked; redrawDialog(); } } }), `Keep the garment of ${garment.wearer} too`),
    h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Cancel"),
      h("button", { class: "main-act", "aria-disabled": ready ? null : "true", on: { click: () => ready && take() } }, said ? `Take ${plural(said.rows.length, "garment")}` : "Take the names")),
    said && openAsks().length > 0 && h("p", { class: "end quiet" }, "Answer the question above first."));
}

const cellOf = (row, at, column) => team.edits[at]?.[column] ?? row.cells[column] ?? "";

function wordsField(what, label) {
  const wish = team.words[what];
  const taken = new Set(team.garment.rows.map((row) => row.cells.placement));
  const places = (team.outline?.faces ?? []).flatMap((face) => face.places).filter((one) => !taken.has(one.placement));
  const value = wish.on ? wish.placement : "";
  return h("label", { class: "field" }, label, h("select", { name: `words-${what}`, value, on: { change: (event) => { wish.on = event.target.value !== ""; wish.placement = event.target.value; redrawDialog(); } } },
    h("option", { value: "" }, "no"), places.map((one) => h("option", { value: one.placement }, `yes, ${one.title.toLowerCase()}`))));
}

// The garment's prints become the kit, and each line a garment of it: one step, which one undo takes back.
async function take() {
  const { garment, kit, read: said, edits, words, keep, done } = team;
  const ops = [];
  const left = ({ order, wearer, copies, ...cells }) => cells; // which belong to the garment
  if (!garment.kit) {
    garment.rows.forEach((row, at) => ops.push({ op: "add", table: "kits", new: `k${at}`, cells: { ...left(row.cells), kit, garment: kindWords() } }));
    for (const what of ["name", "number"]) {
      if (words[what].on) ops.push({ op: "add", table: "kits", new: `w-${what}`, cells: { kit, garment: kindWords(), placement: words[what].placement, words: `{${what}}`, ...(what === "number" ? { font: "number" } : {}) } });
    }
  }
  const last = garment.rows[garment.rows.length - 1]?.id;
  said.rows.forEach((row, at) => {
    const cells = Object.fromEntries(Object.entries({ ...row.cells, ...(edits[at] ?? {}), kit, order: garment.order }).filter(([, value]) => value !== ""));
    ops.push({ op: "add", new: `n${at}`, cells });
  });
  if (!garment.kit && !keep) ops.push({ op: "remove", ids: garment.rows.map((row) => row.id) });
  closeDialog();
  const ids = await change(`${said.rows.length} names`, ops);
  if (!ids) return;
  done(ids.n0 ?? last);
  notice(`${plural(said.rows.length, "garment")} for ${kit}.`, { label: "Undo", run: () => step("undo") });
}

// The kit says the kind of garment; each line says its size.
const kindWords = () => splitWords(team.outline?.garment ?? team.garment.garment).kind.replaceAll("-", " ");
