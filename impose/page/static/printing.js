// Sheets to the printer: looked at first, sent by a click, followed until they are out. The program decides; this asks.

import { h, hidden, plural, say } from "./dom.js";
import { post } from "./server.js";
import { held, base, redraw, tell, route } from "./batch.js";
import { findingView } from "./findings.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";

const under = new Map(); // what is under way or has ended, by file
const asked = new Set(); // files whose printing was asked after since this page was loaded
const keyOf = (made, file) => `${base()}/made/${made.id}/print ${file.name}`;
const send = (made, file, step, more = {}) => post(`${base()}/made/${made.id}/print/${step}`, { file: file.name, ...more });
const named = () => (held.shop?.printers ?? []).filter((one) => one.address);

const usual = () => (named().find((one) => one.chosen) ?? named()[0])?.printer;

// ---- beside a file

export function printParts(made, file) {
  const key = keyOf(made, file), at = under.get(key);
  if (!at && named().length && !asked.has(key)) { asked.add(key); pickUp(made, file); }
  const busy = at && !at.ended;
  return [h("button", { key: "print", class: "small", "aria-disabled": busy ? "true" : null, on: { click: () => !busy && openPrint(made, file) } }, "Print", hidden(`: ${file.title}`)),
    busy && h("button", { key: "stop", class: "small", on: { click: () => stop(made, file) } }, "Stop printing", hidden(`: ${file.title}`))];
}

export function printState(made, file) {
  const at = under.get(keyOf(made, file));
  if (!at?.says.length && !at?.trouble) return null;
  const unsure = at.runs.find((one) => one.standing === "asks");
  return h("li", { key: `state-${file.name}`, class: `said ${at.ended ? (at.runs.every((one) => one.standing === "printed") ? "good" : "warning") : ""}` },
    h("div", { key: "says", role: "status" }, at.says.map((words, number) => h("p", { key: number }, words)), at.trouble && h("p", { key: "trouble", class: "is-stop" }, at.trouble)),
    unsure && h("p", {}, h("button", { class: "small", on: { click: () => openPrint(made, file, { again: true, sheets: unsure.sheets.join(", ") }) } }, "It did not come out: print it again")));
}

// What was begun before this page was loaded, or in another tab.
async function pickUp(made, file) {
  try {
    const told = await send(made, file, "follow", { printer: usual() });
    if (told.runs.length) { take(made, file, told); watch(made, file); }
  } catch { /* the printer is off: nothing is known, and nothing is said of it */ }
}

function take(made, file, told) {
  const says = told.runs.map((one) => one.words);
  const before = under.get(keyOf(made, file));
  under.set(keyOf(made, file), { ...told, says, trouble: says.length ? "" : before?.trouble ?? "" });
  if (says.length) say(says.at(-1));
  redraw();
}

function watch(made, file) {
  const key = keyOf(made, file);
  if (under.get(key)?.ended || under.get(key)?.watched) return;
  under.get(key).watched = true;
  setTimeout(async () => {
    const at = under.get(key);
    if (!at || at.ended) return;
    try { take(made, file, await send(made, file, "follow", { printer: at.printer })); }
    catch (error) { fail(at, error); }
    at.watched = false;
    watch(made, file);
  }, under.get(key).trouble ? 4000 : 1000);
}

function fail(at, error) {
  at.trouble = [error.what ?? "That did not work.", error.remedy].filter(Boolean).join(" ");
  say(at.trouble);
  redraw();
}

async function stop(made, file) {
  const at = under.get(keyOf(made, file));
  try {
    const told = await send(made, file, "cancel", { printer: at.printer });
    take(made, file, told.runs.length ? told : { ...told, ended: true, runs: [{ words: "Stopped before anything was sent.", standing: "failed", sheets: [] }] });
  } catch (error) { fail(at, error); }
}

// ---- the look before

let work = null;

function openPrint(made, file, more = {}) {
  const list = named();
  work = { made, file, again: false, sheets: "", answers: {}, accept: [], asked: new Map(), warned: new Map(), check: null, busy: false, wrong: "", printer: usual(), ...more };
  openDialog(list.length ? view : noPrinter, `Print ${file.title}`, { onClose: () => { work = null; } });
  if (list.length) look();
}

const noPrinter = () => h("div", { class: "dialog" }, h("h2", {}, "No printer is named yet"),
  h("p", {}, "Name yours in Shop, under Printers; until then save the PDF and print it at actual size, mirroring off."),
  h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Close"), h("a", { class: "button", href: `${work.file.url}?save=1`, download: work.file.name }, "Save the PDF"),
    h("button", { class: "main-act", on: { click: () => { closeDialog(); route.go("/shop#printers"); } } }, "To the printers")));

const wish = () => ({ printer: work.printer, again: work.again, sheets: work.sheets, answers: work.answers, accept: work.accept, trust_again: work.trust === true });

async function look() {
  const mine = work, round = (mine.round = (mine.round ?? 0) + 1);
  Object.assign(mine, { busy: true, wrong: "" });
  redrawDialog();
  try {
    const check = await send(mine.made, mine.file, "check", wish());
    if (work !== mine || mine.round !== round) return;
    mine.check = check;
    for (const one of check.questions) mine.asked.set(one.code, one.question);
    for (const one of check.findings) if (one.severity === "warn") mine.warned.set(one.kind, one);
  } catch (error) {
    if (work !== mine || mine.round !== round) return;
    Object.assign(mine, { check: null, wrong: [error.what, error.remedy].filter(Boolean).join(" ") });
  }
  mine.busy = false;
  redrawDialog();
  say(mine.wrong || (mine.check.ready ? "Ready to print." : "Some things are to be answered first."));
}

async function go() {
  const { made, file, check } = work;
  const body = { ...wish(), asked_after: check.asked_after };
  work.busy = true;
  redrawDialog();
  under.set(keyOf(made, file), { printer: work.printer, runs: [], says: ["Sending to the printer."], ended: false, trouble: "" });
  closeDialog();
  redraw();
  say("Sending to the printer.");
  try { take(made, file, await send(made, file, "send", body)); } catch (error) { const at = under.get(keyOf(made, file)); at.ended = error.status === 422; at.says = at.ended ? [] : at.says; fail(at, error); }
  watch(made, file);
}

const upper = (text) => `${text[0].toUpperCase()}${text.slice(1)}`;

function printerWords(printer) {
  if (!printer) return null;
  return h("p", { class: "quiet" }, [printer.model || printer.name, printer.state, ...printer.reasons, printer.loaded === null ? "it does not say which paper lies in it: look" : printer.loaded.length ? `paper in it: ${printer.loaded.join("; ")}` : "no paper in it", printer.low.length ? `ink low: ${printer.low.join(", ")}` : ""].filter(Boolean).map((words, at) => (at ? words : upper(words))).join(" · "));
}

function question([code, words]) {
  const answer = (value) => h("label", { key: String(value), class: "tick" }, h("input", { type: "radio", name: `answer-${code}`, checked: work.answers[code] === value, on: { change: () => { work.answers = { ...work.answers, [code]: value }; look(); } } }), value ? "Yes" : "No");
  return h("fieldset", { key: code, class: "stack asked-of" }, h("legend", { class: "strong" }, words), h("div", { class: "line" }, answer(true), answer(false)));
}

function warned([kind, finding]) {
  const agree = (event) => { work.accept = event.target.checked ? [...work.accept, kind] : work.accept.filter((one) => one !== kind); look(); };
  return h("div", { key: kind, class: "stack" }, findingView({ ...finding, mends: [] }, { short: true }),
    h("label", { class: "tick" }, h("input", { type: "checkbox", name: `agree-${kind}`, checked: work.accept.includes(kind), on: { change: agree } }), "Print it all the same", hidden(`: ${finding.title}`)));
}

function stopped(finding, at) {
  const act = finding.kind === "printed-already" ? ["Print once more", () => { work.again = true; look(); }]
    : finding.remedy_code === "trust-changed" ? ["It was reset or exchanged: trust it", () => { work.trust = true; look(); }] : null;
  return h("div", { key: at, class: "stack" }, findingView({ ...finding, mends: [] }, { short: true }), act && h("p", {}, h("button", { class: "small", on: { click: act[1] } }, act[0])));
}

function view() {
  const { file, check, busy, wrong } = work, list = named();
  const stops = (check?.findings ?? []).filter((one) => one.severity === "stop"), notes = (check?.findings ?? []).filter((one) => one.severity === "note");
  const ready = check?.ready && !busy;
  return h("div", { class: "dialog" }, h("h2", {}, `Print: ${file.title}`),
    h("div", { class: "fields" },
      list.length > 1 ? h("label", { class: "field" }, "Printer", h("select", { name: "print-printer", value: work.printer, on: { change: (event) => { Object.assign(work, { printer: event.target.value, answers: {}, accept: [], asked: new Map(), warned: new Map(), check: null }); look(); } } }, list.map((one) => h("option", { value: one.printer }, one.title)))) : h("p", {}, "Printer: ", h("span", { class: "strong" }, list[0]?.title)),
      h("label", { class: "field" }, "Sheets", h("input", { name: "print-sheets", placeholder: "all, or 2, 4-6", value: work.sheets, on: { change: (event) => { work.sheets = event.target.value; look(); } } }))),
    check && printerWords(check.printer),
    wrong && h("p", { class: "said stop", role: "alert" }, wrong),
    stops.map(stopped), [...work.warned].map(warned), [...work.asked].map(question),
    notes.length > 0 && h("details", {}, h("summary", {}, plural(notes.length, "note")), h("div", { class: "stack" }, notes.map((one, at) => h("div", { key: at }, findingView({ ...one, mends: [] }, { short: true }))))),
    h("p", { class: "quiet", role: "status" }, busy ? "Asking the printer." : ready ? `${plural(check.sheets.length, "sheet")} to print, at actual size.` : check ? "Nothing is sent before what stands above is mended or answered." : ""),
    h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Cancel"), h("button", { on: { click: look } }, "Look again"),
      h("button", { class: "main-act", id: "print-now", "aria-disabled": ready ? null : "true", on: { click: () => ready && go() } }, ready ? `Print ${plural(check.sheets.length, "sheet")}` : "Print")));
}
