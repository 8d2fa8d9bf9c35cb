// Press: garment after garment. A large drawing, three words a line, two boxes a print.

import { h, hidden, plural, say } from "./dom.js";
import { get, post } from "./server.js";
import { held, base, redraw, notice, tell, onEvent, loadMade, loadShop } from "./batch.js";
import { TAB } from "./server.js";
import { stillFace } from "./garment.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";
import { feeding, otherFiles, sheetFiles } from "./sheets.js";
import { agreements } from "./agreed.js";
import { fitTicks, isFit } from "./making.js";
import { openChosen } from "./again.js";
import { openAgainBatch, openPrice } from "./price.js";
import { follow } from "./server.js";

const page = { made: null, by: null, press: null, again: null, at: null, doing: null, asking: null };

export async function enter() {
  loadShop();
  await loadMade();
  if (!held.made?.some((one) => one.id === page.made)) page.made = held.made?.[0]?.id ?? null;
  await load();
}
export const leave = () => {};
onEvent("ticks", (data) => { if (data.made === page.made && data.by !== TAB) load(); });
onEvent("made", () => { if (location.pathname === "/press") loadMade(); });

async function load() {
  if (!page.made) return;
  try {
    const by = page.by ? `?by=${page.by}` : "";
    [page.press, page.again] = await Promise.all([get(`${base()}/made/${page.made}/press${by}`), get(`${base()}/made/${page.made}/again`)]);
    page.by = page.press.by;
    if (!page.press.garments.some((one) => one.id === page.at)) page.at = (page.press.garments.find((one) => one.next) ?? page.press.garments[0])?.id;
  } catch (error) { tell(error); }
  redraw();
}

async function tick(ticks, words) {
  try {
    for (const one of ticks) {
      const print = page.press.garments.flatMap((garment) => garment.prints).find((found) => found.transfer === one.transfer);
      if (print) Object.assign(print, one);
    }
    redraw();
    await post(`${base()}/made/${page.made}/ticks`, { ticks });
    say(words);
  } catch (error) { tell(error); }
  await load();
}

const isDone = (garment) => garment.prints.every((one) => one.pressed);

export function view() {
  if (!held.made) return h("p", { class: "waiting" }, "Looking for what was made.");
  if (!held.made.length) return h("section", { key: "no", class: "card stack" }, h("h1", {}, "Press"), h("p", { class: "lead" }, "Nothing is made yet. Make the sheets first; then each garment stands here, with what to press and where."), h("p", {}, h("a", { class: "button main-act", href: "/sheets" }, "To the sheets")));
  const { press } = page;
  if (!press) return h("p", { class: "waiting" }, "Laying out the garments.");
  const garment = press.garments.find((one) => one.id === page.at) ?? press.garments[0];
  const index = press.garments.indexOf(garment);
  return h("div", { key: "press" }, head(press), leftOut(press), h("div", { class: "press" }, list(press, garment), garment && station(press, garment, index), side(press)));
}

// What was ordered and is not in these sheets: nobody is to think that all is pressed when all of these are.
const leftOut = (press) => press.left_out?.length > 0 && h("section", { key: "left-out", class: "said warning stack", "aria-label": "Left out" }, h("p", { class: "strong" }, `Not all that was ordered is in this batch. Left out, ${plural(press.left_out.length, "reason")}:`),
  h("ul", { class: "stack small" }, press.left_out.slice(0, 5).map((one, at) => h("li", { key: at }, one))), h("p", { class: "small" }, "Mend it under Sheets, and make the rest."));

function head(press) {
  const by = (name, label) => h("button", { class: "small", "aria-pressed": String(press.by === name), on: { click: () => { page.by = name; load(); } } }, label);
  return h("div", { class: "head" }, h("h1", {}, "Press"),
    held.made.length > 1 && h("label", { class: "line" }, "Batch", h("select", { value: page.made, on: { change: (event) => { page.made = event.target.value; page.at = null; load(); } } }, held.made.map((one) => h("option", { value: one.id }, `${one.code}, ${one.when}${one.reprint_of ? ", made again" : ""}`)))),
    h("div", { class: "line", role: "group", "aria-label": "Order of work" }, by("garment", "By garment"), by("place", "By place")),
    h("div", { class: "counter do" }, h("progress", { "aria-label": "Pressed", max: press.of, value: press.done }), h("p", { class: "figure" }, `${press.done} of ${press.of} pressed`)));
}

const nameOf = (garment) => [garment.wearer || garment.order || garment.garment, garment.count > 1 ? `${garment.number} of ${garment.count}` : ""].filter(Boolean).join(", ");

function list(press, chosen) {
  const wide = matchMedia("(min-width: 62rem)").matches;
  const items = h("ol", {}, press.garments.map((one) => {
    const done = one.prints.filter((print) => print.pressed).length;
    const spoiled = one.prints.some((print) => print.spoiled);
    return h("li", { key: one.id }, h("button", { class: "who-button", "aria-current": one.id === chosen?.id ? "true" : null, on: { click: () => { page.at = one.id; redraw(); } } },
      h("span", { class: "name", dir: "auto" }, nameOf(one)), h("span", { class: "quiet small" }, [one.garment, one.setup].filter(Boolean).join(", ")),
      h("span", { class: `tag ${spoiled ? "stop" : isDone(one) ? "good" : "note"}` }, spoiled ? "spoiled" : isDone(one) ? "done" : one.next ? "next" : `${done} of ${one.prints.length}`)));
  }));
  return h("section", { class: "who", "aria-label": "Garments" }, wide ? items : h("details", {}, h("summary", {}, `All ${plural(press.garments.length, "garment")}`), items));
}

function station(press, garment, index) {
  const next = press.garments.find((one, at) => at > index && !isDone(one)) ?? press.garments.find((one) => one !== garment && !isDone(one));
  return h("section", { key: garment.id, class: "card station", "aria-label": "This garment" },
    h("div", { class: "line apart" }, h("h2", { dir: "auto" }, nameOf(garment)), h("p", { class: "figure quiet" }, `${index + 1} of ${press.garments.length}`)),
    h("p", { class: "lead", dir: "auto" }, [garment.garment, garment.wearer ? garment.order : ""].filter(Boolean).join(" · ")),
    garment.new_blank && h("p", { class: "said stop strong" }, "Take a new blank. Press every print on it again."),
    press.first_check && index === 0 && press.done === 0 && h("p", { class: "said" }, "First garment of the run: press it, let it cool, and look at it before you go on."),
    h("div", { class: "faces-box" }, h("div", { class: "faces still", style: { "--all": garment.faces.reduce((sum, one) => sum + one.view[2], 0), "--two": Math.max(...garment.faces.map((one) => one.view[2])), "--count": garment.faces.length } }, garment.faces.map(stillFace))),
    h("ol", { class: "to-press" }, garment.prints.map((print) => printView(print))),
    h("div", { class: "foot line apart" }, index > 0 ? h("button", { on: { click: () => show(press.garments[index - 1].id) } }, "Back") : h("span", {}),
      next ? h("button", { class: isDone(garment) ? "main-act" : null, on: { click: () => show(next.id) } }, "Next: ", h("span", { dir: "auto" }, nameOf(next))) : isDone(garment) ? h("p", { class: "tag good" }, "All garments are done") : null));
}

function show(id) {
  page.at = id;
  redraw();
  requestAnimationFrame(() => { document.querySelector(".station h2")?.scrollIntoView({ block: "nearest" }); document.querySelector(".to-press input")?.focus(); });
}

// The side is not said twice: “Full back” says that it is the back.
const shortLines = (print) => print.says.filter((one) => !print.title.toLowerCase().includes(one.toLowerCase())).map((one) => one[0].toUpperCase() + one.slice(1));

function printView(print) {
  const spoil = (what) => tick([{ transfer: print.transfer, spoiled: what }], what ? `${print.title} is spoiled: ${what}.` : `${print.title} is not spoiled.`);
  return h("li", { key: print.transfer, class: `to-press-one${print.pressed ? " done" : ""}${print.spoiled ? " spoiled" : ""}` },
    print.picture && h("img", { src: print.picture, alt: "", width: 88, height: 88, loading: "lazy" }),
    h("div", { class: "press-words" }, h("h3", {}, print.title, " ", h("span", { class: "quiet figure small" }, print.transfer)),
      h("ul", { class: "three" }, shortLines(print).map((one, at) => h("li", { key: at }, one))), h("p", { class: "quiet small" }, `${print.size}, sheet ${print.sheet}`),
      print.heats_again?.length > 0 && h("p", { class: "small is-warning" }, `The press heats ${print.heats_again.join(", ")} again: cover it.`),
      print.again && h("p", { class: "small" }, typeof print.again === "string" ? print.again : "Made again.")),
    h("div", { class: "boxes" },
      h("label", { class: "box" }, h("input", { type: "checkbox", name: "pressed", checked: print.pressed, on: { change: (event) => tick([{ transfer: print.transfer, pressed: event.target.checked }], `${print.title}: ${event.target.checked ? "pressed" : "not pressed"}.`) } }), "Pressed", hidden(`: ${print.title}`)),
      h("label", { class: "box" }, h("input", { type: "checkbox", name: "spoiled", checked: Boolean(print.spoiled) || page.asking === print.transfer, on: { change: (event) => { if (event.target.checked) { page.asking = print.transfer; redraw(); } else { page.asking = null; spoil(null); } } } }), "Spoiled", hidden(`: ${print.title}`))),
    page.asking === print.transfer && h("fieldset", { class: "asking" }, h("legend", { class: "strong" }, "What is spoiled?"), h("div", { class: "line" },
      h("button", { on: { click: () => { page.asking = null; spoil("paper"); } } }, "Only the paper"), h("button", { on: { click: () => { page.asking = null; spoil("garment"); } } }, "The garment"), h("button", { class: "plain", on: { click: () => { page.asking = null; redraw(); } } }, "Neither"))),
    print.spoiled && h("p", { class: "asking small is-stop strong" }, print.spoiled === "garment" ? "The garment is spoiled: a new blank, and every print on it again." : "The paper is spoiled: this print again."),
    print.more?.length > 0 && h("details", { class: "asking" }, h("summary", {}, "How", hidden(` to press ${print.title}`)), h("ul", { class: "stack small" }, print.more.map((one, at) => h("li", { key: at }, one)))));
}

function side(press) {
  const made = held.made.find((one) => one.id === page.made);
  const { again } = page;
  return h("aside", { class: "stack", "aria-label": "Press and sheets" },
    again?.prints.length > 0 && h("section", { class: "card stack again" }, h("h2", {}, `To make again: ${plural(again.prints.length, "print")}`),
      h("ul", { class: "stack small" }, again.garments.map((one, at) => h("li", { key: `g${at}` }, h("span", { class: "strong", dir: "auto" }, [one.wearer, one.garment].filter(Boolean).join(", ")), " ", one.says)), again.prints.map((one) => h("li", { key: one.transfer, dir: "auto" }, `${one.transfer} ${one.title}: ${one.because}`))),
      h("button", { class: "main-act", on: { click: openAgain } }, "Make them again")),
    page.doing && h("section", { class: "card doing" }, h("p", { class: "strong" }, "Making again"), h("progress", { "aria-label": "Making again", max: page.doing.of || 1, value: page.doing.of ? page.doing.done : null }), h("p", { class: "quiet" }, page.doing.says ?? ""), page.doing.stop && h("button", { class: "small", on: { click: page.doing.stop } }, "Stop")),
    press.setting && h("section", { class: "card stack" }, h("h2", {}, "Set the press"), h("ul", { class: "setting" }, press.setting.says.map((one, at) => h("li", { key: at, class: "figure strong" }, one))), h("p", { class: "quiet small" }, press.setting.from), h("p", { class: "small" }, "A starting point: test it on scrap first.")),
    press.cautions?.length > 0 && h("details", { class: "card slim" }, h("summary", {}, "Take care"), h("ul", { class: "stack small" }, press.cautions.map((one, at) => h("li", { key: at }, one)))),
    made && h("section", { class: "card stack" }, h("h2", {}, "Files"), feeding(made), h("ul", { class: "files" }, sheetFiles(made), otherFiles(made)), agreements(made), h("div", { class: "line" }, h("button", { class: "small", on: { click: () => openPrice(made) } }, "What to charge"), h("button", { class: "small", on: { click: () => openChosen(press, made, makeChosen) } }, "Make some of it again"), h("button", { class: "small", on: { click: () => openAgainBatch(made, press) } }, "A new batch like it"))));
}

// ---- making again

const wish = { onto: null, whole: false, flat: false, dry: false };

function openAgain() {
  Object.assign(wish, { onto: null, whole: false, flat: false, dry: false });
  openDialog(againView, "Make again");
}

function againView() {
  const { again } = page;
  const sheets = again.sheets ?? [];
  const ready = wish.onto === null || isFit(wish);
  const radio = (value, label, about) => h("label", { key: value === null ? "new" : "onto", class: "tick" }, h("input", { type: "radio", name: "onto", checked: wish.onto === value, on: { change: () => { wish.onto = value; redrawDialog(); } } }), h("span", {}, label, about && h("span", { class: "quiet small" }, ` ${about}`)));
  return h("div", { class: "dialog" }, h("h2", {}, `Make ${plural(again.prints.length, "print")} again`),
    h("ul", { class: "stack" }, again.prints.map((one) => h("li", { key: one.transfer, dir: "auto" }, `${one.transfer} ${one.title}, ${one.garment}: ${one.because}`))),
    h("fieldset", { class: "stack" }, h("legend", { class: "strong" }, "On which paper?"), radio(null, "A new sheet"), sheets.length > 0 && radio(wish.onto ?? sheets[0].sheet, "A sheet that is printed already", "where it has free places"),
      wish.onto !== null && h("label", { class: "field measure" }, "Which sheet", h("select", { value: wish.onto, on: { change: (event) => { wish.onto = Number(event.target.value); redrawDialog(); } } }, sheets.map((one) => h("option", { value: one.sheet }, one.says || `Sheet ${one.sheet}`))))),
    wish.onto !== null && fitTicks(wish),
    h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Cancel"), h("button", { class: "main-act", "aria-disabled": ready ? null : "true", on: { click: () => ready && makeAgain() } }, "Make again")));
}

async function makeChosen(asked) {
  page.by = null;
  await runAgain(asked);
}

async function makeAgain() {
  closeDialog();
  const onto = wish.onto === null ? null : { sheet: wish.onto, whole: wish.whole, flat: wish.flat, dry: wish.dry };
  await runAgain({ ids: page.again.ids, because: "spoiled", onto, new_art: false });
}

async function runAgain(asked) {
  page.doing = { says: "", done: 0, of: 0 };
  redraw();
  try {
    const job = follow(await post(`${base()}/made/${page.made}/again`, asked), (told) => { Object.assign(page.doing, told); redraw(); });
    page.doing.stop = job.stop;
    const made = await job.work;
    if (made) { await loadMade(); page.made = made.id; page.at = null; notice([`Made again: ${plural(made.transfers, "print")} on ${plural(made.sheets, "sheet")}.`, made.feed?.length && !made.files.some((one) => /once more/.test(one.title)) ? made.feed[0] : "Look at the files, and print them."].join(" ")); }
  } catch (error) { tell(error); }
  page.doing = null;
  await load();
}
