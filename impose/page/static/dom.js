// Elements as plain calls, and a view drawn again without losing focus, typing or scroll.
//
// A view is a function that returns elements. `render` compares them with those on the screen and changes only what
// differs. Elements are matched by `key`, then by their order. What a person is typing in is never written over.

const SVG = "http://www.w3.org/2000/svg";

function put(element, name, value) {
  if (name === "on") { element.__on = value; for (const type of Object.keys(value)) hear(element, type); return; }
  if (name === "key") { element.__key = value; return; }
  if (name === "style") {
    for (const [property, given] of Object.entries(value)) element.style.setProperty(property, given);
    return;
  }
  if (name === "text") { element.textContent = value; return; }
  if (name === "value") { element.__value = value; element.value = value; return; }
  if (name === "checked" || name === "selected" || name === "indeterminate") { element[name] = Boolean(value); }
  if (name === "checked") element.__checked = Boolean(value);
  if (value === false || value === null || value === undefined) return;
  element.setAttribute(name, value === true ? "" : value);
}

// One listener for each kind of event, which looks up what the newest view asked for.
function hear(element, type) {
  element.__heard ??= new Set();
  if (element.__heard.has(type)) return;
  element.__heard.add(type);
  element.addEventListener(type, (event) => element.__on?.[type]?.call(element, event));
}

function grow(element, children) {
  for (const child of children.flat(Infinity)) {
    if (child === null || child === undefined || child === false) continue;
    element.append(child instanceof Node ? child : document.createTextNode(String(child)));
  }
  return element;
}

function make(element, properties, children) {
  let value;
  for (const [name, given] of Object.entries(properties ?? {})) {
    if (name === "value" && element.tagName === "SELECT") value = given;
    else put(element, name, given);
  }
  grow(element, children);
  if (value !== undefined) put(element, "value", value);
  return element;
}

export const h = (tag, properties, ...children) => make(document.createElement(tag), properties, children);
export const s = (tag, properties, ...children) => make(document.createElementNS(SVG, tag), properties, children);

// Text that only a screen reader says.
export const hidden = (text) => h("span", { class: "unseen" }, text);

const matches = (old, fresh) =>
  old.nodeType === fresh.nodeType && old.nodeName === fresh.nodeName && old.__key === fresh.__key;

export function render(root, ...fresh) {
  const holder = grow(document.createElement("div"), fresh);
  mergeChildren(root, holder);
}

function mergeChildren(old, fresh) {
  const keyed = new Map();
  for (const child of old.childNodes) if (child.__key !== undefined) keyed.set(child.__key, child);
  let at = old.firstChild;
  for (const child of [...fresh.childNodes]) {
    let kept = child.__key === undefined ? at : keyed.get(child.__key);
    while (child.__key === undefined && kept && kept.__key !== undefined) kept = kept.nextSibling;
    if (child.__make && !(kept && kept.__same === child.__same)) {
      const made = child.__make();
      Object.assign(made, { __same: child.__same, __key: child.__key });
      if (kept && matches(kept, child)) { if (kept === at) at = at.nextSibling; kept.remove(); }
      old.insertBefore(made, at);
    } else if (kept && matches(kept, child)) {
      if (kept !== at) old.insertBefore(kept, at);
      merge(kept, child);
      at = kept.nextSibling;
    } else {
      fill(child);
      old.insertBefore(child, at);
    }
  }
  while (at) { const next = at.nextSibling; at.remove(); at = next; }
}

const LEFT_ALONE = new Set(["open"]); // a person opens and closes details and dialogs

function merge(old, fresh) {
  if (old.nodeType === Node.TEXT_NODE) {
    if (old.data !== fresh.data) old.data = fresh.data;
    return;
  }
  if (fresh.__same !== undefined && old.__same === fresh.__same) return;
  old.__same = fresh.__same;
  for (const { name } of [...old.attributes]) {
    if (name !== "style" && !fresh.hasAttribute(name) && !LEFT_ALONE.has(name)) old.removeAttribute(name);
  }
  if (old.style.cssText !== fresh.style.cssText) old.style.cssText = fresh.style.cssText; // the attribute is not allowed
  for (const { name, value } of fresh.attributes) {
    if (name === "style") continue;
    if (old.getAttribute(name) !== value && !(LEFT_ALONE.has(name) && old.__seen)) old.setAttribute(name, value);
  }
  old.__seen = true;
  old.__on = fresh.__on;
  for (const type of Object.keys(fresh.__on ?? {})) hear(old, type);
  mergeChildren(old, fresh);
  mergeValue(old, fresh);
}

function mergeValue(old, fresh) {
  if (fresh.__checked !== undefined) old.checked = fresh.__checked;
  if (fresh.__value === undefined) return;
  const typing = old === document.activeElement && old.value !== old.__value && old.tagName !== "SELECT";
  if (!typing && old.value !== String(fresh.__value)) old.value = fresh.__value;
  old.__value = fresh.__value;
}

// A costly drawing: it is made by `make` only where the one on the screen has another `mark`.
export function lazy(mark, make) {
  const place = document.createElementNS(SVG, "svg");
  return Object.assign(place, { __same: mark, __make: make });
}

// What is new on the screen holds places of drawings, which are made now.
function fill(element) {
  if (element.nodeType !== Node.ELEMENT_NODE) return;
  for (const child of [...element.childNodes]) {
    if (!child.__make) { fill(child); continue; }
    const made = child.__make();
    Object.assign(made, { __same: child.__same, __key: child.__key });
    child.replaceWith(made);
  }
}

export const plural = (count, one, many = one + "s") => `${count} ${count === 1 ? one : many}`;

export function say(text) {
  const place = document.getElementById("state");
  if (place.textContent !== text) place.textContent = text;
}

// A small picture that is not ready yet is asked for again, some times; then its frame stays empty.
export function askAgain(event) {
  const image = event.target;
  image.__asked = (image.__asked ?? 0) + 1;
  if (image.__asked > 5) return;
  setTimeout(() => { if (image.isConnected) image.src = `${image.getAttribute("src").replace(/&again=.*/, "")}&again=${image.__asked}`; }, 1500 * image.__asked);
}
