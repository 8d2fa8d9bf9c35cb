// A garment drawn flat, all faces to one scale, with its places: aim at one with the mouse, or choose it by its name.

import { h, s, hidden, lazy } from "./dom.js";
import { placeAt } from "./places.js";

const parsed = new Map();

// The drawing that the program made, as elements: shapes and pictures, nothing else. `change` may add to it.
export function drawing(text, change = () => {}, mark = "") {
  return lazy(`${mark} ${text}`, () => {
    if (!parsed.has(text)) {
      if (parsed.size > 400) parsed.clear();
      parsed.set(text, new DOMParser().parseFromString(text, "text/html").querySelector("svg"));
    }
    const copy = document.importNode(parsed.get(text), true);
    for (const name of ["width", "height"]) copy.removeAttribute(name);
    copy.setAttribute("aria-hidden", "true");
    copy.setAttribute("focusable", "false");
    change(copy);
    return copy;
  });
}

function pointOf(event) {
  const svg = event.currentTarget.querySelector(".over");
  const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  return [x, y];
}

// A picture that is not planned yet, where it will lie; that of a sleeve is turned with it.
function comingView({ key, href, box, turned }) {
  const [x, y] = [box.x + box.w / 2, box.y + box.h / 2];
  const [w, height] = turned ? [box.h, box.w] : [box.w, box.h];
  return s("image", { key, class: "coming", href, x: x - w / 2, y: y - height / 2, width: w, height,
    preserveAspectRatio: turned ? "xMidYMid meet" : "xMidYMin meet", transform: turned ? `rotate(${turned} ${x} ${y})` : null });
}

// One face of all. `aim` holds the place that is aimed at, anywhere on the garment; `act` is what may be done.
function faceView(face, faces, aim, act) {
  const w = face.view[2];
  const aimed = (placement) => aim.placement === placement && aim.face === face.face;
  const at = (event) => placeAt(faces, face.face, ...pointOf(event));
  const point = (event) => { const { face: on, placement } = at(event); act.aim(on, placement); };
  const over = s("svg", { class: "over", viewBox: face.view.join(" "), "aria-hidden": "true", focusable: "false" },
    face.places.map((one) => s("rect", {
      key: one.placement, class: `place${one.taken ? " taken" : ""}${aimed(one.placement) ? " aim" : ""}`,
      x: one.box.x, y: one.box.y, width: one.box.w, height: one.box.h, rx: 6 })),
    face.coming.map(comingView));
  const on = face.places.length === 0 ? {} : {
    dragover: (event) => { event.preventDefault(); event.dataTransfer.dropEffect = "copy"; point(event); },
    dragleave: (event) => { if (!event.currentTarget.contains(event.relatedTarget)) act.aim(null, null); },
    drop: (event) => { event.preventDefault(); act.drop(at(event).placement, event.dataTransfer); },
    mousemove: point,
    mouseleave: () => act.aim(null, null),
    click: (event) => act.choose(at(event).placement),
  };
  return h("figure", { key: face.face, class: "face", style: { "--w": w } },
    h("figcaption", {}, face.title),
    h("div", { class: "plane", on }, drawing(face.svg), over));
}

// The places by their names: what the mouse does on the drawing is done here with the keyboard or a finger.
function spotView(face, one, aim, act) {
  const aimed = aim.placement === one.placement;
  const over = (event) => { event.preventDefault(); event.dataTransfer.dropEffect = "copy"; act.aim(face.face, one.placement); };
  return h("li", { key: one.placement }, h("button", {
    class: `spot${one.taken ? " taken" : ""}${aimed ? " aim" : ""}`, "data-placement": one.placement, title: one.taken || null,
    on: {
      click: () => act.choose(one.placement), focus: () => act.aim(face.face, one.placement), mouseenter: () => act.aim(face.face, one.placement),
      blur: () => act.aim(null, null), mouseleave: () => act.aim(null, null), dragover: over,
      drop: (event) => { event.preventDefault(); act.drop(one.placement, event.dataTransfer); },
    },
  }, one.taken && h("span", { "aria-hidden": "true" }, "✓"), one.title, one.taken ? hidden(`: ${one.taken}`) : hidden(": free")));
}

// All faces side by side, to one scale.
export function garmentView(faces, aim, act) {
  const wide = faces.filter((one) => one.face === "front" || one.face === "back");
  const sum = (of) => of.reduce((total, one) => total + one.view[2], 0) || 1;
  const widest = Math.max(...faces.map((one) => one.view[2]));
  return h("div", { class: "stack faces-box" },
    h("div", { class: "faces", style: { "--all": sum(faces), "--two": Math.max(sum(wide), widest), "--count": faces.length } }, faces.map((one) => faceView(one, faces, aim, act))),
    h("ul", { class: "spots", "aria-label": "Places of the garment" }, faces.flatMap((face) => face.places.map((one) => spotView(face, one, aim, act)))));
}

// A face only to be looked at.
export const stillFace = (face) => h("figure", { key: face.face, class: "face", style: { "--w": face.view[2] } },
  h("figcaption", {}, face.title), h("div", { class: "plane" }, drawing(face.svg)));
