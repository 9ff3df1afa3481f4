// Where what is drawn comes to lie: on the edges of other rooms first, else on a grid. The guides say which edges.

import { bounds, path, snap } from "./geometry.js";
import { shape } from "./dom.js";
import { hand, house } from "./hand.js";
import { shownLength } from "./lengths.js";

const FINE = matchMedia("(pointer: fine)");
const reachOf = (plan) => Math.max(0.1, FINE.matches ? Math.min(12 / plan.scale, 0.3) : Math.min(24 / plan.scale, 0.8)); // m: a finger is less exact

export const grid = () => (house()?.show === "us" ? 0.0254 * 3 : 0.1);
export const guides = [null, null];

// One coordinate of a point, by axis (0 to the right, 1 up).
export function snapped(plan, value, axis, besides) {
  const rooms = Object.entries(house()?.rooms || {}).filter(([name]) => name !== besides);
  const edges = rooms.flatMap(([, room]) => room.corners.map((c) => c[axis]));
  const near = edges.reduce((best, e) => (Math.abs(e - value) < Math.abs(best - value) ? e : best), Infinity);
  guides[axis] = Math.abs(near - value) < reachOf(plan) ? near : null;
  return guides[axis] ?? snap(value, grid());
}

export const snappedPoint = (plan, point, besides) => [snapped(plan, point[0], 0, besides), snapped(plan, point[1], 1, besides)];

// What is being drawn, its lengths beside its edges, and the guides it lies on; `typed` replaces the lengths.
export function ghost(plan, points, typed = []) {
  clearGhost(plan);
  const [x1, y1, x2, y2] = bounds(points);
  const size = 13 / plan.scale;
  const text = (words, x, y, kind) => shape("text", { class: kind, x, y, "font-size": size }, words);
  const words = typed.map((t, i) => t && `${t}${i === typed.at ? "|" : ""}`);
  const [bx, by, bw, bh] = plan.box;
  plan.layers.handles.append(shape("g", { class: "ghost" },
    guides[0] !== null && shape("path", { class: "guide", d: `M${guides[0]},${by}V${by + bh}` }),
    guides[1] !== null && shape("path", { class: "guide", d: `M${bx},${-guides[1]}H${bx + bw}` }),
    shape("path", { d: path(points, points.length > 2) }),
    points.length > 2 && [text(words[0] || shownLength(x2 - x1), (x1 + x2) / 2, Math.max(-y2 - size, by + size), "name"), text(words[1] || shownLength(y2 - y1), Math.min(x2 + 2.4 * size, bx + bw - 2.4 * size), -(y1 + y2) / 2, "name")],
    points.length === 2 && text(shownLength(Math.hypot(x2 - x1, y2 - y1)), (x1 + x2) / 2 + size, -(y1 + y2) / 2 - size, "name")));
}

export function clearGhost(plan) {
  plan.layers.handles.querySelector(".ghost")?.remove();
}

// Lines a metre (2 ft) apart while walls are drawn.
export function drawGrid(plan) {
  const step = house()?.show === "us" ? 0.6096 : 1;
  const [x, y, w, h] = plan.box || [0, 0, 0, 0];
  if (hand.mode !== "walls" || plan.scale * step < 8) return plan.layers.ground.replaceChildren();
  const lines = [];
  for (let i = Math.ceil(x / step); i * step < x + w; i += 1) lines.push(`M${i * step},${y}V${y + h}`);
  for (let i = Math.ceil(y / step); i * step < y + h; i += 1) lines.push(`M${x},${i * step}H${x + w}`);
  return plan.layers.ground.replaceChildren(shape("path", { class: "grid", d: lines.join("") }));
}
