// A finding: what is wrong, why it matters, a look at it in its true size, and what mends it.

import { h, hidden } from "./dom.js";
import { change, notice, step } from "./batch.js";
import { openDialog, closeDialog } from "./dialog.js";
import { severityClass, severityWords, titleOfPlace, ofRows } from "./lots.js";
import { held } from "./batch.js";

const PX = 96 / 25.4; // of CSS, for each millimetre

const upper = (text) => (text ? text[0].toUpperCase() + text.slice(1) : text);
const stop = (text) => (!text || /[.!?]$/.test(text) ? text : `${text}.`);

export function whereWords(finding) {
  const rows = [...new Set(ofRows(finding))];
  const found = rows.map((id) => held.batch.rows.find((row) => row.id === id) ?? held.batch.kits.rows.find((row) => row.id === id)).filter(Boolean);
  if (!found.length) return "";
  const words = found.slice(0, 3).map(({ cells }) => [cells.order, cells.wearer || cells.name || cells.kit, titleOfPlace(cells.placement)].filter(Boolean).join(", "));
  return [...new Set(words)].join("; ") + (found.length > 3 ? ` and ${found.length - 3} more` : "");
}

// A picture as large as it prints. Where the window is narrower it is made to fit, and said.
function trueSize(crop, source, label) {
  const wide = Math.max(24, crop.width_mm * PX);
  return h("figure", { class: "crop" }, h("img", { src: source, alt: label, width: Math.round(wide), height: Math.round(Math.max(24, crop.height_mm * PX)), loading: "lazy" }), h("figcaption", { class: "quiet small" }, label));
}

const stronger = (crop) => (crop.strong ? ", tints twelve times as strong" : "");

export async function mend(finding, one) {
  const done = await change(one.label, one.ops);
  if (done) notice(`Done: ${one.label}.`, { label: "Undo", run: () => step("undo") });
}

function look(finding) {
  const { crop } = finding;
  openDialog(() => h("div", { class: "dialog" }, h("h2", {}, upper(finding.title || finding.what)),
    h("p", { class: "quiet" }, whereWords(finding)),
    h("p", {}, upper(stop(finding.what))), finding.why && h("p", { class: "quiet" }, finding.why),
    h("div", { class: "compare" }, trueSize(crop, crop.before, `As it is now, in its true size${stronger(crop)}`),
      finding.mends.filter((one) => one.after).map((one) => trueSize(crop, one.after, `After: ${one.label}`))),
    h("div", { class: "foot" }, h("button", { on: { click: closeDialog } }, "Close"),
      finding.mends.map((one) => h("button", { class: one.after ? "main-act" : null, on: { click: () => { closeDialog(); mend(finding, one); } } }, one.label)))), "A closer look", { wide: true });
}

export function findingView(finding, { short = false } = {}) {
  const where = short ? "" : whereWords(finding);
  const mends = finding.mends ?? [];
  return h("div", { key: finding.id, class: `said ${severityClass(finding.severity)}${short ? " short" : ""}`, "data-kind": finding.kind },
    h("div", { class: "said-words" },
      h("p", {}, h("span", { class: `tag ${severityClass(finding.severity)}` }, severityWords(finding.severity)), " ", h("span", { class: "strong" }, upper(finding.title || finding.kind.replaceAll("-", " ")))),
      where && h("p", { class: "small", dir: "auto" }, where),
      h("p", {}, upper(stop(finding.what))), !short && finding.why && h("p", { class: "quiet small" }, finding.why),
      finding.remedy && h("p", { class: short ? "small" : "" }, finding.remedy),
      h("div", { class: "line" },
        finding.kind === "no-room" && location.pathname !== "/sheets" && h("a", { class: "button small", href: "/sheets" }, "Choose the paper"),
        finding.crop && h("button", { class: "small", on: { click: () => look(finding) } }, "Look closer", hidden(`: ${finding.title}`)),
        mends.map((one) => h("button", { key: one.mend, class: "small", "data-mend": one.mend, on: { click: () => mend(finding, one) } }, one.label)))),
    !short && finding.crop && h("div", { class: "compare" }, trueSize(finding.crop, finding.crop.before, `Now, true size${stronger(finding.crop)}`),
      mends.filter((one) => one.after).map((one) => trueSize(finding.crop, one.after, `After: ${one.label}`))));
}
