// Pages that a shop prints for itself: patches of colours to press and choose from, placement guides.

import { h, hidden } from "./dom.js";
import { post, follow } from "./server.js";
import { base, held, redraw } from "./batch.js";
import { nameOfArt, sizesOf } from "./lots.js";

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

const wish = { placement: "", kind: "", group: "", size: "", paper: "", made: false, doing: false, wrong: "" };

async function makeGuide(event) {
  event.preventDefault();
  if (wish.doing) return;
  Object.assign(wish, { doing: true, wrong: "", made: false }); redraw();
  try {
    await follow(await post(`${base()}/guide`, { placement: wish.placement, garment: [wish.kind, wish.group, wish.size].filter(Boolean).join(" "), paper: wish.paper })).work;
    wish.made = true;
  } catch (error) { wish.wrong = [error.what, error.remedy].filter(Boolean).join(" "); }
  wish.doing = false; redraw();
}

// A sheet of plain paper or card to lay against the neckline or a seam: where the print comes, true to size.
export function guideCard(shop) {
  const { kinds, groups, default: usual } = held.kinds;
  wish.placement ||= shop.placements[0].placement; wish.kind ||= usual.kind; wish.group ||= usual.group;
  const sizes = sizesOf(wish.kind, wish.group);
  if (!sizes.includes(wish.size)) wish.size = sizes.includes("M") ? "M" : sizes[0] ?? "";
  const select = (name, label, choices) => h("label", { class: "field" }, label, h("select", { name: `guide-${name}`, value: wish[name], on: { change: (event) => { wish[name] = event.target.value; wish.made = false; redraw(); } } }, choices.map(([value, title]) => h("option", { value }, title))));
  return h("section", { key: "guide", class: "card stack" }, h("h2", {}, "Placement guide"), h("p", { class: "lead" }, "A page to lay against the neckline or a seam. It shows where the print comes, true to size."),
    h("form", { class: "stack", on: { submit: makeGuide } }, h("div", { class: "fields" }, select("placement", "Place", shop.placements.map((one) => [one.placement, one.title])), select("kind", "Garment", kinds.map((one) => [one.name, one.title])), select("group", "Cut", groups.map((one) => [one.name, one.title])), select("size", "Size", sizes.map((one) => [one, one])), select("paper", "On plain paper", [["", "as the tickets"], ["a4", "A4"], ["letter", "Letter"], ["a3", "A3"]])),
      wish.wrong && h("p", { class: "wrong", role: "alert" }, wish.wrong), h("p", {}, h("button", { "aria-disabled": wish.doing ? "true" : null }, wish.doing ? "Making the page" : "Make the page"))),
    wish.made && h("div", { class: "said good stack", role: "status" }, h("p", {}, openPdf("guide", "Open the page to print")), h("p", {}, "Print it at actual size on plain paper or card, and check its ruler.")));
}
