// Pages that a shop prints for itself: patches of colours to press and choose from.

import { h, hidden } from "./dom.js";
import { post, follow } from "./server.js";
import { base, held, redraw } from "./batch.js";
import { nameOfArt } from "./lots.js";

const page = { art: new Set(), named: "", made: null, doing: false, wrong: "" };

async function makeColours(event) {
  event.preventDefault();
  if (page.doing) return;
  Object.assign(page, { doing: true, wrong: "", made: null }); redraw();
  try {
    page.made = await follow(await post(`${base()}/colours`, { art: [...page.art], colours: page.named.split(/[\s,;]+/).filter(Boolean) })).work;
  } catch (error) { page.wrong = [error.what, error.remedy].filter(Boolean).join(" "); }
  page.doing = false; redraw();
}

const range = (patches) => { const numbers = patches.map((one) => one.number).sort((a, b) => a - b); return `${numbers[0]} to ${numbers[numbers.length - 1]}`; };

export const openPdf = (kind, words) => h("a", { class: "button main-act", href: `${base()}/documents/${kind}.pdf`, target: "_blank", rel: "noopener" }, words, hidden(", opens a new tab"));

export function coloursCard() {
  const art = held.batch?.art ?? [];
  return h("section", { key: "colours", class: "card stack" }, h("h2", {}, "Colours to choose from"), h("p", { class: "lead" }, "A page of numbered patches around a colour. Print it, press it on scrap, and choose when it is cool."),
    h("form", { class: "stack", on: { submit: makeColours } },
      art.length > 0 && h("fieldset", { class: "line" }, h("legend", { class: "strong" }, "The main colours of"), art.slice(0, 24).map((one) => h("label", { key: one.sha, class: "tick", dir: "auto" }, h("input", { type: "checkbox", name: "colours-of", value: one.sha, checked: page.art.has(one.sha), on: { change: (event) => { if (event.target.checked) page.art.add(one.sha); else page.art.delete(one.sha); } } }), nameOfArt(one.art)))),
      h("label", { class: "field measure" }, "Or colours by their number ", h("span", { class: "hint" }, "(#C81E28, several with a comma)"), h("input", { name: "colours-named", value: page.named, on: { input: (event) => { page.named = event.target.value; } } })),
      page.wrong && h("p", { class: "wrong", role: "alert" }, page.wrong),
      h("p", {}, h("button", { "aria-disabled": page.doing ? "true" : null }, page.doing ? "Making the page" : "Make the page"))),
    page.made && h("div", { class: "said good stack", role: "status" }, h("p", {}, openPdf("colours", "Open the page to print")), h("p", {}, "Print it at actual size, with mirroring off in the printer."),
      h("ul", { class: "stack small" }, page.made.colours.map((one) => h("li", { key: one.colour }, h("span", { class: "swatch", style: { "background-color": one.colour } }), " ", h("span", { class: "strong figure" }, one.colour), ` ${[one.file, one.share && `${one.share} %`].filter(Boolean).join(", ")}: patches ${range(one.patches)}`))),
      h("p", { class: "small" }, `Then write beside the print, under Orders, in “Other colours”: the colour, > and the number you chose. For example ${page.made.colours[0]?.colour ?? "#C81E28"} > ${page.made.colours[0]?.patches[0]?.number ?? 17}.`)));
}
