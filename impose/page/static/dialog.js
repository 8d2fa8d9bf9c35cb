// One dialog at a time. It is drawn again as its own state changes; Escape closes it, and focus goes back.

import { h, render } from "./dom.js";

let dialog = null, make = null, closed = null, from = null;

export function openDialog(view, label, { wide = false, onClose = null } = {}) {
  if (dialog) closeDialog();
  make = view; closed = onClose; from = document.activeElement;
  dialog = h("dialog", { "aria-label": label, class: wide ? "wide" : null, on: { cancel: (event) => { event.preventDefault(); closeDialog(); } } });
  document.body.append(dialog);
  redrawDialog();
  dialog.showModal();
}

export function redrawDialog() {
  if (dialog) render(dialog, make());
}

export function closeDialog() {
  const [ended, after] = [dialog, closed];
  dialog = make = closed = null;
  ended?.close();
  ended?.remove();
  after?.();
  if (from?.isConnected) from.focus();
}
