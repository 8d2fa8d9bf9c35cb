// Pages for customers, and noting that they agreed: from then on a change is pointed out.

import { h, hidden } from "./dom.js";
import { post } from "./server.js";
import { base, loadPlan, notice } from "./batch.js";
import { openDialog, closeDialog, redrawDialog } from "./dialog.js";
import { fileLinks } from "./sheets.js";

const stem = (name) => name.replace(/\.[^.]*$/, "");

export function agreements(made) {
  const pages = made.approval ?? [];
  if (!pages.length) return null;
  return h("details", {}, h("summary", {}, "Pages for your customers to agree to"),
    h("p", { class: "quiet small" }, "Send the page. When the answer has come, note it here: a change after that is pointed out before it is printed."),
    h("ul", { class: "files" }, pages.map((one) => h("li", { key: one.order }, h("ul", {}, fileLinks({ ...made, files: made.files.filter((file) => stem(file.name) === stem(one.file)) }, ["approval"])),
      h("button", { class: "small", on: { click: () => openAgreed(made, one) } }, "They agreed", hidden(`: ${one.title || "this order"}`))))));
}

const today = () => new Date(Date.now() - new Date().getTimezoneOffset() * 60000).toISOString().slice(0, 10);

function openAgreed(made, order) {
  const said = { by: "", on: today(), wrong: "" };
  const note = async (event) => {
    event.preventDefault();
    try {
      const done = await post(`${base()}/made/${made.id}/agreed`, { by: said.by, on: said.on, order: order.order });
      closeDialog();
      notice(`Noted: ${done.by} agreed on ${done.on}. What is changed after that is pointed out.`);
      loadPlan();
    } catch (error) { said.wrong = [error.what, error.remedy].filter(Boolean).join(" "); redrawDialog(); }
  };
  openDialog(() => h("form", { class: "dialog", on: { submit: note } }, h("h2", { dir: "auto" }, order.title ? `${order.title}: agreed` : "Agreed"),
    h("div", { class: "fields" }, h("label", { class: "field" }, "Who agreed", h("input", { name: "by", dir: "auto", autocomplete: "off", value: said.by, on: { input: (event) => { said.by = event.target.value; } } })),
      h("label", { class: "field" }, "When", h("input", { name: "on", type: "date", value: said.on, on: { input: (event) => { said.on = event.target.value; } } }))),
    said.wrong && h("p", { class: "wrong", role: "alert" }, said.wrong),
    h("div", { class: "foot" }, h("button", { type: "button", on: { click: closeDialog } }, "Cancel"), h("button", { class: "main-act" }, "Note it"))), "The customer agreed");
}
