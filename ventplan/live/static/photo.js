// A photo or scan of a floor plan to trace over. It is read here, shown here and kept in this browser; it is never sent.

import { el, field, byId, svgEl, setContent, textInput } from "./dom.js";
import { editor } from "./editor.js";
import { clearGhost, ghost, guides } from "./sketch.js";
import { metres } from "./units.js";

const WIDE_M = 10; // width of a picture until its scale is set
const store = () => `ventplan photo ${editor.page.place}`;
let photo = null; // url, x, y (upper left corner, m), width, height (m)
let first = null; // one end of the known length

export const measuring = () => editor.tool === "scale";

export function drawPhoto(plan) {
  const layer = plan.layers.photo;
  if (!photo || editor.mode !== "walls") return layer.replaceChildren();
  return layer.replaceChildren(svgEl("image", { href: photo.url, x: photo.x, y: -photo.y, width: photo.width, height: photo.height, opacity: 0.55, preserveAspectRatio: "none" }));
}

function keep() {
  try {
    if (photo) localStorage.setItem(store(), JSON.stringify(photo));
    else localStorage.removeItem(store());
  } catch { /* too large to keep: it is here until the page is left */ }
}

export function loadPhoto() {
  try { photo = JSON.parse(localStorage.getItem(store())); } catch { photo = null; }
}

function take(file, redraw) {
  const reader = new FileReader();
  reader.onload = () => {
    const image = new Image();
    image.onload = () => {
      photo = { url: reader.result, x: 0, y: (WIDE_M * image.naturalHeight) / image.naturalWidth, width: WIDE_M, height: (WIDE_M * image.naturalHeight) / image.naturalWidth };
      keep();
      redraw();
    };
    image.src = reader.result;
  };
  reader.readAsDataURL(file);
}

// Two clicks on the ends of a known length set the scale.
export function measure(plan, point) {
  if (!photo) return;
  if (!first) {
    first = point;
    return;
  }
  const [a, b] = [first, point];
  first = null;
  clearGhost(plan);
  const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
  const dialog = byId("ask");
  const entry = textInput("", () => {}, { id: "known-length" });
  const set = () => {
    const wanted = metres(entry.value);
    dialog.close();
    if (!(wanted > 0) || !(length > 0)) return;
    const k = wanted / length;
    Object.assign(photo, { x: a[0] + (photo.x - a[0]) * k, y: a[1] + (photo.y - a[1]) * k, width: photo.width * k, height: photo.height * k });
    editor.tool = "";
    keep();
    drawPhoto(plan);
    plan.fit();
  };
  entry.addEventListener("keydown", (e) => { if (e.key === "Enter") { e.preventDefault(); set(); } });
  setContent(dialog, el("h2", {}, "How long is that in the house?"), field("Length", entry), el("div", { class: "row" }, el("button", { class: "strong", onclick: set }, "Set the scale"), el("button", { onclick: () => dialog.close() }, "Cancel")));
  dialog.showModal();
}

export function measureHover(plan, point) {
  if (!first) return;
  guides.fill(null);
  ghost(plan, [first, point]);
}

export function movePhoto(plan, by) {
  if (!photo) return;
  photo.x += by[0];
  photo.y += by[1];
  drawPhoto(plan);
  keep();
}

export function photoPanel(redraw, use) {
  const file = el("input", { type: "file", accept: "image/*", id: "photo-file", onchange: (e) => e.target.files[0] && take(e.target.files[0], redraw) });
  return el("details", { open: Boolean(photo) }, el("summary", {}, "Trace a photo or scan of a plan"),
    el("p", { class: "quiet" }, "The picture stays in this browser. Set its scale with one length that you know, then draw over it."), file,
    photo && el("div", { class: "row" }, el("button", { class: "small", id: "photo-scale", onclick: () => use("scale") }, "Set its scale"), el("button", { class: "small", onclick: () => use("shift") }, "Move it"),
      el("button", { class: "small", onclick: () => { photo = null; keep(); redraw(); } }, "Remove it")));
}
