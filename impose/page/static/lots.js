// The rows of a batch as people think of them: orders, and in each the garments, one by one or as a team's kit.

import { held } from "./batch.js";

const cell = (row, name) => row.cells[name] ?? "";

// [{order, garments: [{key, rows, kit, order, wearer, garment}]}] in the order of the table.
export function listOrders(batch = held.batch) {
  const orders = new Map();
  for (const row of batch.rows) {
    const order = cell(row, "order"), kit = cell(row, "kit");
    const key = kit ? `kit\n${kit}` : `one\n${cell(row, "wearer")}\n${cell(row, "garment")}`;
    if (!orders.has(order)) orders.set(order, new Map());
    const garments = orders.get(order);
    if (!garments.has(key)) {
      garments.set(key, { key: `${order}\n${key}`, order, kit, wearer: kit ? "" : cell(row, "wearer"), garment: kit ? "" : cell(row, "garment"), rows: [] });
    }
    garments.get(key).rows.push(row);
  }
  return [...orders].map(([order, garments]) => ({ order, garments: [...garments.values()] }));
}

export const allGarments = () => listOrders().flatMap((one) => one.garments);
export const garmentOfRow = (id) => allGarments().find((one) => one.rows.some((row) => row.id === id));
export const kitRows = (kit) => held.batch.kits.rows.filter((row) => cell(row, "kit") === kit);

// The rows that carry the prints: those of the kit, or the garment's own.
export const printRows = (garment) => (garment.kit ? kitRows(garment.kit) : garment.rows);

export const titleOfPlace = (placement) =>
  held.columns.find((one) => one.name === "placement")?.choices?.find((one) => one.value === placement)?.title ?? placement;

export const artOf = (path) => held.batch.art.find((one) => one.art === path);
export const nameOfArt = (path) => (path ?? "").split("/").pop();
export const smallOf = (path, side = 240) => { const art = artOf(path); return art ? `${art.small}?side=${side}` : null; };

// What is wrong with these rows, worst first.
const RANK = { stop: 0, warn: 1, warning: 1, note: 2 };
export function findingsOf(ids) {
  const wanted = new Set(ids);
  return (held.plan?.findings ?? []).filter((one) => !one.accepted && ofRows(one).some((id) => wanted.has(id))).sort(byRank);
}
export const ofRows = (finding) => [...(finding.rows ?? []), ...(finding.kit_rows ?? []), finding.row, finding.kit_row].filter(Boolean);
export const byRank = (a, b) => (RANK[a.severity] ?? 3) - (RANK[b.severity] ?? 3);
export const severityClass = (severity) => ({ stop: "stop", warn: "warning", warning: "warning" })[severity] ?? "note";
export const severityWords = (severity) => held.state.words?.severities?.[severity] ?? severity;
export const worst = (findings) => [...findings].sort(byRank)[0]?.severity;

// The sizes that a kind of garment comes in.
export const sizesOf = (kind, group) => {
  const own = held.kinds.kinds.find((one) => one.name === kind)?.sizes;
  return (own?.length ? own : held.kinds.groups.find((one) => one.name === group)?.sizes) ?? [];
};

// A garment in words, as kind, cut and size.
export function splitWords(text) {
  const kinds = [...held.kinds.kinds].sort((a, b) => b.name.length - a.name.length);
  const flat = ` ${text.toLowerCase().replaceAll("-", " ")} `;
  const kind = kinds.find((one) => flat.includes(` ${one.name.replaceAll("-", " ")} `))?.name ?? held.kinds.default.kind;
  const group = held.kinds.groups.find((one) => flat.includes(` ${one.name} `))?.name ?? held.kinds.default.group;
  const size = sizesOf(kind, group).find((one) => flat.includes(` ${one.toLowerCase()} `)) ?? "";
  return { kind, group, size };
}
