// Sheets: the papers, every sheet to scale, what it costs, what is to look at, and the making.

import { h, hidden, plural, say } from "./dom.js";
import { post, follow } from "./server.js";
import { held, base, change, redraw, notice, tell, loadShop } from "./batch.js";
import { drawing } from "./garment.js";
import { findingView, mend } from "./findings.js";
import { byRank, severityClass } from "./lots.js";
import { openDialog, closeDialog } from "./dialog.js";
import { openLarge } from "./large.js";
import { openQuote } from "./quote.js";
import { printParts, printState } from "./printing.js";
import { agreements } from "./agreed.js";
import { openMake } from "./making.js";

const page = { chosen: null, doing: null, tips: null, tipsOf: null, tipsWork: null, made: null, large: null, largeOf: null, notes: false };
const svgs = new Map(); // the drawing of each sheet of the newest plan
let watcher = null;

export function enter() { loadShop(); page.made = null; page.few = null; }
export function leave() { watcher?.disconnect(); watcher = null; }

const address = (plan, sheet) => sheet.svg ?? `${base()}/plan/${plan.plan}/sheets/${sheet.sheet}.svg`;

async function fetchSheet(plan, sheet) {
  const url = address(plan, sheet);
  if (svgs.has(url)) return;
  svgs.set(url, null);
  try {
    const reply = await fetch(url);
    if (reply.ok) svgs.set(url, await reply.text());
    else svgs.delete(url);
  } catch { svgs.delete(url); }
  for (const old of [...svgs.keys()].slice(0, Math.max(0, svgs.size - 300))) svgs.delete(old);
  redraw();
}

// A sheet is fetched when it comes near the window. Until its new drawing is there, the old one is kept.
function near(element) {
  watcher ??= new IntersectionObserver((seen) => {
    for (const one of seen) if (one.isIntersecting) one.target.__fetch?.();
  }, { rootMargin: "600px" });
  watcher.observe(element);
}

export function view() {
  const { plan } = held;
  return h("div", { key: "sheets" }, h("div", { class: "head" }, h("h1", {}, "Sheets"), making()),
    page.doing && doingView(page.doing),
    page.made && madeView(page.made),
    papers(),
    !held.batch.rows.length ? empty() : !plan ? h("p", { class: "waiting" }, "Laying the prints on paper.") : [
      summary(plan), h("div", { class: "sheets-page" }, h("div", {}, plan.sheets.length ? sheetList(plan) : nothingFits()), h("div", {}, lookAt(plan), tips(plan)))]);
}

const empty = () => h("section", { class: "card" }, h("h2", {}, "Nothing to print yet"), h("p", { class: "lead" }, "Put a picture on a garment first."), h("p", {}, h("a", { class: "button main-act", href: "/orders" }, "To the orders")));

const nothingFits = () => h("section", { class: "card" }, h("h2", {}, "No print is on a sheet yet"), h("p", { class: "lead" }, "Mend what is named beside this, or choose a larger paper above. The sheets then appear here."));

// ---- papers

function papers() {
  const { shop } = held;
  const chosen = held.batch.choices.papers ?? shop?.papers.filter((one) => one.offered).map((one) => one.paper) ?? [];
  const offered = (shop?.papers ?? chosen.map((paper) => ({ paper, title: paper, size: "" }))).filter((one) => one.ready !== false);
  if (shop && !page.few) page.few = new Set(offered.filter((one) => chosen.includes(one.paper) || one.counted || one.offered || one.yours).map((one) => one.paper));
  const few = offered.filter((one) => page.few?.has(one.paper) ?? true); // a box that is ticked stays where it is
  const rest = offered.filter((one) => !few.includes(one));
  const toggle = (one) => {
    const next = chosen.includes(one.paper) ? chosen.filter((name) => name !== one.paper) : [...chosen, one.paper];
    if (!next.length) { notice("Keep at least one paper."); return; }
    held.batch.choices = { ...held.batch.choices, papers: next };
    redraw();
    change(`Paper ${one.title}`, [{ op: "choose", name: "papers", value: next }]);
  };
  const box = (one) => h("label", { key: one.paper, class: "paper-tick" }, h("input", { type: "checkbox", name: "paper", value: one.paper, checked: chosen.includes(one.paper), on: { change: () => toggle(one) } }),
    h("span", {}, h("span", { class: "strong" }, one.title), " ", h("span", { class: "quiet small" }, [one.size, one.cost?.value && `${one.cost.value} ${one.cost.unit}`, one.counted && one.left && `${one.left} left`.replace(/ left left$/, " left")].filter(Boolean).join(" · "))));
  return h("section", { key: "papers", class: "card papers", "aria-label": "Paper" }, h("h2", {}, "Paper that may be used"),
    h("div", { class: "line" }, few.map(box)),
    h("div", { class: "line" }, rest.length > 0 && h("details", {}, h("summary", {}, "Other papers, not in your shop yet"), h("div", { class: "line" }, rest.map(box))),
      h("button", { class: "small", on: { click: openQuote } }, "Compare papers")));
}

// ---- numbers

function summary(plan) {
  const { cost } = plan;
  const number = plan.sheets.reduce((sum, one) => sum + one.transfers.length, 0);
  const left = Object.values(plan.rows ?? {}).filter((one) => one.state !== "planned").length;
  const worst = plan.findings.filter((one) => !one.accepted && severityClass(one.severity) !== "note").length;
  const fact = (title, value, about, cls = "") => h("div", {}, h("dt", {}, title), h("dd", { class: `figure ${cls}` }, value), about && h("dd", { class: "about" }, about));
  return h("dl", { class: "facts" },
    fact("Sheets", plan.sheets.length, cost.papers.map((one) => `${one.sheets} × ${one.title}`).join(", ")),
    fact("Prints", number, left ? `${plural(left, "row")} left out` : "all are on a sheet", left ? "is-stop" : ""),
    fact("Paper", cost.paper ? `${cost.paper} ${cost.currency}` : "no price yet", cost.proven ? "no fewer sheets are possible" : plan.final ? "a good mix" : "looking for fewer sheets"),
    fact("To look at", worst || "nothing", worst ? "see the list" : "no warnings", worst ? "is-warning" : "is-good"));
}

// ---- the sheets

function sheetList(plan) {
  return h("ol", { class: "sheets" }, plan.sheets.map((sheet) => h("li", { key: sheet.sheet }, sheetView(plan, sheet))));
}

function sheetView(plan, sheet) {
  const url = address(plan, sheet);
  const text = svgs.get(url);
  const ask = () => fetchSheet(plan, sheet);
  const holder = h("div", { key: "plane", class: "sheet-plane", style: { "--w": sheet.width_mm, "--h": sheet.height_mm }, on: { click: (event) => {
    const one = event.target.closest(".one");
    if (one) choose(one.dataset.transfer);
  } } });
  if (text) holder.append(drawing(text, mark, marks(sheet)));
  requestAnimationFrame(() => { const there = document.querySelector(`[data-sheet="${sheet.sheet}"] .sheet-plane`); if (there) { there.__fetch = ask; near(there); if (!svgs.has(url)) { const box = there.getBoundingClientRect(); if (box.top < innerHeight + 600 && box.bottom > -600) ask(); } } });
  return h("figure", { class: "card sheet", "data-sheet": sheet.sheet, "aria-label": `Sheet ${sheet.sheet} of ${plan.sheets.length}` },
    h("figcaption", { class: "line apart" }, h("h3", {}, `Sheet ${sheet.sheet} of ${plan.sheets.length}`),
      h("span", { class: "quiet small" }, [sheet.title, `${Math.round(sheet.yield * 100)} % used`, sheet.cost && `${sheet.cost} ${plan.cost.currency}`].filter(Boolean).join(" · "))),
    holder,
    h("details", { class: "on-sheet" }, h("summary", {}, `${plural(sheet.transfers.length, "print")} on this sheet`),
      h("ul", {}, sheet.transfers.map((one) => h("li", { key: one.id }, h("button", { class: "plain", "aria-pressed": String(page.chosen === one.id), on: { click: () => choose(one.id) } },
        h("span", { class: "figure strong" }, one.id), h("span", { dir: "auto" }, [one.wearer || one.order, one.place, one.size].filter(Boolean).join(" · "))))))));
}

const worstOf = (transfer) => (held.plan?.findings ?? [])
  .filter((one) => !one.accepted && severityClass(one.severity) !== "note" && one.on?.some((spot) => spot.transfer === transfer)).sort(byRank)[0];

// What is marked on a sheet, in short: as long as it stays, so does the drawing.
const marks = (sheet) => sheet.transfers.map(({ id }) => `${worstOf(id)?.severity ?? ""}${page.chosen === id ? "!" : ""}`).join();

function mark(svg) {
  svg.classList.add("sheet-svg");
  for (const one of svg.querySelectorAll(".one")) {
    const transfer = one.getAttribute("data-transfer");
    const found = worstOf(transfer);
    if (found) one.classList.add(`has-${severityClass(found.severity)}`);
    one.classList.toggle("chosen", transfer === page.chosen);
  }
}

function choose(transfer) {
  page.chosen = page.chosen === transfer ? null : transfer;
  const one = held.plan.sheets.flatMap((sheet) => sheet.transfers).find((found) => found.id === transfer);
  if (page.chosen && one) say(`${one.id}: ${[one.order, one.wearer, one.place, one.garment, one.size].filter(Boolean).join(", ")}.`);
  redraw();
}

// ---- what is to look at

function lookAt(plan) {
  const all = plan.findings.filter((one) => !one.accepted).sort(byRank);
  const chosen = page.chosen && held.plan.sheets.flatMap((sheet) => sheet.transfers).find((one) => one.id === page.chosen);
  const loud = all.filter((one) => severityClass(one.severity) !== "note");
  const notes = all.filter((one) => severityClass(one.severity) === "note");
  const large = Object.values(plan.rows ?? {}).some((one) => one.state !== "planned") && all.some((one) => one.kind === "no-room");
  return h("section", { class: "look", "aria-label": "To look at" },
    chosen && h("div", { class: "card chosen-card" }, h("h2", {}, chosen.id), h("p", { dir: "auto" }, [chosen.order, chosen.wearer].filter(Boolean).join(", ")), h("p", {}, `${chosen.place}, ${chosen.garment}`),
      h("p", { class: "figure" }, [chosen.size, chosen.ppi && `${Math.round(chosen.ppi)} pixels per inch`, chosen.cost && `${chosen.cost} ${plan.cost.currency}`].filter(Boolean).join(" · ")),
      all.filter((one) => one.on?.some((spot) => spot.transfer === chosen.id)).map((one) => findingView(one, { short: true })),
      h("button", { class: "small", on: { click: () => choose(chosen.id) } }, "Close")),
    h("h2", {}, loud.length ? "To look at" : "Nothing needs your eye"),
    loud.length === 0 && h("p", { class: "quiet" }, plan.sheets.length ? "No warnings on any print." : ""),
    large && h("p", {}, h("button", { class: "main-act", on: { click: openLarge } }, "See ways for what is too large")),
    inKinds(loud).map(([kind, list]) => h("div", { key: kind, class: "stack" }, list.slice(0, 2).map((one) => findingView(one)),
      list.length > 2 && h("details", {}, h("summary", {}, `${list.length - 2} more: ${(list[0].title || "like this").toLowerCase()}`), h("div", { class: "stack" }, list.slice(2, 60).map((one) => findingView(one)))))),
    notes.length > 0 && h("details", {}, h("summary", {}, plural(notes.length, "note")), h("div", { class: "stack" }, notes.slice(0, 60).map((one) => findingView(one)))));
}

// Findings of one kind together, the worst kind first.
function inKinds(list) {
  const kinds = new Map();
  for (const one of list) kinds.set(one.kind, [...(kinds.get(one.kind) ?? []), one]);
  return [...kinds];
}

// What one more or less would change: asked for once the plan stands still.
function tips(plan) {
  if (plan.final && page.tipsOf !== plan.plan && !page.tipsWork) askTips(plan);
  const list = [...(plan.tips ?? []), ...(page.tipsOf === plan.plan && page.tips ? page.tips : [])];
  if (!list.length) return h("div", { key: "tips", hidden: true });
  return h("section", { key: "tips", class: "card stack", "aria-label": "What would save paper" }, h("h2", {}, "What would change"),
    h("ul", { class: "stack" }, list.map((one, at) => h("li", { key: at }, h("p", {}, one.says), one.ops && h("button", { class: "small", on: { click: () => mend(null, one) } }, one.label)))));
}

async function askTips(plan) {
  page.tipsOf = plan.plan; page.tips = null;
  await new Promise((done) => setTimeout(done, 1200));
  if (held.plan?.plan !== plan.plan || document.hidden || location.pathname !== "/sheets") { page.tipsOf = null; return; }
  try {
    page.tipsWork = follow(await post(`${base()}/tips`));
    page.tips = (await page.tipsWork.work)?.tips ?? [];
  } catch { page.tips = []; } // no tip is no fault
  page.tipsWork = null;
  redraw();
}

// ---- making

function making() {
  const { plan } = held;
  if (!plan?.sheets.length) return null;
  const searching = !plan.final;
  return h("div", { class: "line do" },
    h("button", { class: "small", on: { click: () => !page.doing && openMake(plan, make) } }, "More ways"),
    searching && h("button", { class: "small", on: { click: () => post(`${base()}/plan/stop`).catch(tell) } }, "Good enough, stop looking"),
    h("button", { class: "main-act", id: "make", "aria-disabled": page.doing ? "true" : null, on: { click: () => !page.doing && make() } }, `Make ${plural(plan.sheets.length, "sheet")}`));
}

async function make(extra = {}) {
  const { plan } = held;
  const { ok = true, left_out: left = 0, what, remedy } = plan.can_make ?? {};
  if ((!ok || left > 0) && !extra.without) {
    openDialog(() => h("div", { class: "dialog" }, h("h2", {}, ok ? "Make the rest?" : "This cannot be made yet"), h("p", {}, what), (extra.first || extra.onto) && h("p", {}, "Made this way, an order with such a row is left out whole."), remedy && h("p", { class: "quiet" }, remedy),
      h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "I mend it first"), ok && h("button", { class: "main-act", on: { click: () => { closeDialog(); make({ ...extra, without: true }); } } }, "Make the rest"))), "Not everything can be made");
    return;
  }
  await run("Making the sheets", () => post(`${base()}/make`, { plan: plan.plan, ...extra }));
}

export async function run(title, begin) {
  page.doing = { title, says: "", done: 0, of: 0, stop: null };
  redraw();
  try {
    const job = follow(await begin(), (told) => { if (page.doing) Object.assign(page.doing, told); redraw(); });
    page.doing.stop = job.stop;
    const made = await job.work;
    page.made = made;
    say(made ? "The sheets are made." : "Stopped. Nothing was made.");
  } catch (error) {
    if (error.code === "old-plan") notice("The sheets have changed meanwhile. Look at them, and make them again.");
    else tell(error);
  }
  page.doing = null;
  redraw();
  requestAnimationFrame(() => document.querySelector(".made-now a")?.focus());
}

export const doingView = (doing) => h("section", { key: "doing", class: "card doing", "aria-label": doing.title }, h("p", { class: "strong" }, doing.title), h("progress", { "aria-label": doing.title, max: doing.of || 1, value: doing.of ? doing.done : null }),
  h("div", { class: "line apart" }, h("span", { class: "quiet" }, doing.says || "Beginning"), doing.stop && h("button", { class: "small", on: { click: doing.stop } }, "Stop")));

export const fileLinks = (made, kinds) => made.files.filter((one) => kinds.includes(one.kind)).map((one) => h("li", { key: one.name, class: "line apart file" }, h("span", {}, one.title),
  h("span", { class: "line" }, h("a", { class: "button small", href: one.url, target: "_blank", rel: "noopener" }, "Look", hidden(`: ${one.title}, opens a new tab`)), h("a", { class: "button small", href: `${one.url}?save=1`, download: one.name.split("/").pop() }, "Save", hidden(`: ${one.title}`)), one.kind === "sheets" && printParts(made, one))));

// What is made beside the sheets, whatever it is; what goes to customers and the record are shown elsewhere.
const ELSEWHERE = new Set(["sheets", "approval", "reprint", "batch", "other"]);
export const otherFiles = (made) => fileLinks(made, [...new Set(made.files.map((one) => one.kind))].filter((kind) => !ELSEWHERE.has(kind)));

export const sheetFiles = (made) => made.files.filter((one) => one.kind === "sheets").flatMap((one) => [fileLinks({ ...made, files: [one] }, ["sheets"]), printState(made, one)]);

// How a sheet that is printed already goes into the printer once more.
export const feeding = (made) => made.feed?.length > 0 && h("div", { class: "said stack" }, made.feed.map((one, at) => h("p", { key: at }, one)));

export function madeView(made) {
  return h("section", { key: "made", class: "card made-now stack", "aria-label": "Made" }, h("h2", {}, `Made: ${plural(made.sheets, "sheet")}, ${plural(made.transfers, "print")}`),
    h("p", { class: "lead" }, made.files.some((one) => one.kind === "sheets") ? "Print at actual size, on the coated side, with mirroring off in the printer: the artwork is mirrored already." : "Pictures to look at; nothing to print."),
    feeding(made),
    h("ul", { class: "files" }, sheetFiles(made), otherFiles(made)),
    agreements(made),
    h("p", { class: "line" }, h("a", { class: "button main-act", href: "/press" }, "Press them"), h("span", { class: "quiet small" }, `Batch ${made.code}. It stays in the list under Press.`)));
}
