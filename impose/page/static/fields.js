// A field for a column or a choice, by its kind.

import { h } from "./dom.js";
import { held } from "./batch.js";

const YES_NO = [{ value: "yes", title: "yes" }, { value: "no", title: "no" }];
export const TRUE_FALSE = [{ value: "true", title: "yes" }, { value: "false", title: "no" }];

// `set(column, label)` answers what is called with a new value.
export function fieldFor(name, row, set) {
  const column = held.columns.find((one) => one.name === name);
  if (!column) return null;
  return h("label", { key: name, class: "field", title: column.help ?? "" }, column.title,
    inputFor(column, row.cells[name] ?? "", set(name, column.title)));
}

export function inputFor(column, value, set, extra = {}) {
  const choices = column.kind === "yes-no" && !column.choices?.length ? YES_NO : column.choices;
  const listed = choices?.length && (value === "" || choices.some((one) => one.value === value));
  if (listed) {
    return h("select", { ...extra, value, on: { change: (event) => set(event.target.value) } },
      h("option", { value: "" }, ""), choices.filter((one) => one.value !== "").map((one) => h("option", { value: one.value }, one.title)));
  }
  return h("input", { ...extra, dir: "auto", value, inputmode: column.kind === "number" ? "numeric" : null, on: { ...(extra.on ?? {}), input: (event) => set(event.target.value) } });
}
