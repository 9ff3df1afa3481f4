// Drawing a rectangle: a room, furniture or stairs. Drag, or click two corners; meanwhile type a length and Enter, then
// the other one. A tool stays active until another is chosen or Escape is pressed.

import { notice } from "./dialogs.js";
import { el, byId, svgEl } from "./dom.js";
import { edit, editor, house, currentLevel, select } from "./editor.js";
import { bounds, inside, path, snap } from "./geometry.js";
import { lengthText, metres, shownLength } from "./units.js";

export const BOXES = ["room", "furniture", "stairs"];
const LEAST_M = 0.25;
let sketch = null; // tool, from, to, typed, at

export const sketching = () => Boolean(sketch);

export function beginSketch(plan, point) {
  if (sketch) return;
  const from = snappedPoint(plan, point);
  sketch = { tool: editor.tool, from, to: from, typed: ["", ""], at: 0 };
}

// A typed length replaces the pointer's, in the direction of the pointer.
export function growSketch(plan, point) {
  const to = snappedPoint(plan, point);
  sketch.pointer = to;
  sketch.to = [0, 1].map((i) => {
    const length = metres(sketch.typed[i]);
    if (!(length > 0)) return to[i];
    guides[i] = null;
    return sketch.from[i] + (to[i] < sketch.from[i] ? -length : length);
  });
  const { from: [x, y], to: [u, v] } = sketch;
  ghost(plan, [[x, y], [u, y], [u, v], [x, v]], Object.assign([...sketch.typed], { at: sketch.at }));
}

export function cancelSketch(plan) {
  if (!sketch) return false;
  sketch = null;
  clearGhost(plan);
  return true;
}

export async function finishSketch(plan) {
  const done = sketch;
  cancelSketch(plan);
  const [x1, y1, x2, y2] = bounds([done.from, done.to]);
  if (x2 - x1 < LEAST_M || y2 - y1 < LEAST_M) return;
  const box = { at: [lengthText(x1), lengthText(y1)], size: [lengthText(x2 - x1), lengthText(y2 - y1)] };
  if (done.tool === "room") await addRoom(plan, box);
  else if (done.tool === "furniture") await addFurniture(box, [(x1 + x2) / 2, (y1 + y2) / 2], plan);
  else await addStairs(box, [(x1 + x2) / 2, (y1 + y2) / 2]);
}

export function freeName(section, word) {
  const taken = Object.keys(house()?.[section] || {});
  for (let i = 1; ; i += 1) {
    const name = i === 1 ? word : `${word} ${i}`;
    if (!taken.includes(name)) return name;
  }
}

async function addRoom(plan, box) {
  const name = freeName("rooms", "room");
  const level = currentLevel();
  if (await edit(`add ${name}`, [{ path: ["rooms", name], add: level ? { ...box, floor: lengthText(level) } : box }])) {
    select("room", name);
    nameOnPlan(plan, "room", name);
  }
}

async function addFurniture(box, middle, plan) {
  const room = plan.storey.rooms.find((n) => inside(middle, house().rooms[n].corners));
  if (!room) return notice("held", "Furniture stands in a room: draw it inside one.");
  const name = freeName("obstacles", "furniture");
  return await edit(`add ${name}`, [{ path: ["obstacles", name], add: { room, ...box, height: lengthText(0.8) } }]) && select("obstacle", name);
}

// Stairs join the room they are drawn in with the room above or below them.
async function addStairs(box, middle) {
  const found = Object.entries(house()?.rooms || {}).filter(([, r]) => inside(middle, r.corners)).sort(([, a], [, b]) => a.floor_m - b.floor_m);
  const shown = house()?.storeys[editor.storey]?.rooms || [];
  const here = found.findIndex(([n]) => shown.includes(n));
  const pair = here < 0 ? [] : found.slice(here, here + 2).length === 2 ? found.slice(here, here + 2) : found.slice(Math.max(here - 1, 0), here + 1);
  if (pair.length < 2) return notice("held", "Stairs join two storeys: draw the room above or below first, then the stairs where both rooms are.");
  const joins = pair.map(([n]) => n);
  const name = freeName("openings", "stairs");
  return await edit(`add ${name}`, [{ path: ["openings", name], add: { kind: "shaft", joins, ...box } }]) && select("opening", name);
}

// Lengths typed while something is drawn.
export function typeLength(plan, key) {
  if (!sketch) return false;
  if (/^[\d.,]$/.test(key) || (sketch.typed[sketch.at] && /^[a-z'" ]$/i.test(key) && key !== "x")) sketch.typed[sketch.at] += key;
  else if (key === "Backspace") sketch.typed[sketch.at] = sketch.typed[sketch.at].slice(0, -1);
  else if (["Enter", "Tab", "x"].includes(key)) {
    if (sketch.at === 1 || (key === "Enter" && !sketch.typed[0])) {
      finishSketch(plan);
      return true;
    }
    sketch.at = 1;
  } else return false;
  growSketch(plan, sketch.pointer || sketch.to);
  return true;
}

// Snapping: to the edges of other rooms first, otherwise to a grid. The guides show which edges.


const FINE = matchMedia("(pointer: fine)");
const reachOf = (plan) => Math.max(0.1, FINE.matches ? Math.min(12 / plan.scale, 0.3) : Math.min(24 / plan.scale, 0.8)); // m: a finger is less exact

export const grid = () => (editor.units === "us" ? 0.0254 * 3 : 0.1);
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
  const text = (words, x, y, kind) => svgEl("text", { class: kind, x, y, "font-size": size }, words);
  const words = typed.map((t, i) => t && `${t}${i === typed.at ? "|" : ""}`);
  const [bx, by, bw, bh] = plan.box;
  plan.layers.handles.append(svgEl("g", { class: "ghost" },
    guides[0] !== null && svgEl("path", { class: "guide", d: `M${guides[0]},${by}V${by + bh}` }),
    guides[1] !== null && svgEl("path", { class: "guide", d: `M${bx},${-guides[1]}H${bx + bw}` }),
    svgEl("path", { d: path(points, points.length > 2) }),
    points.length > 2 && [text(words[0] || shownLength(x2 - x1), (x1 + x2) / 2, Math.max(-y2 - size, by + size), "name"), text(words[1] || shownLength(y2 - y1), Math.min(x2 + 2.4 * size, bx + bw - 2.4 * size), -(y1 + y2) / 2, "name")],
    points.length === 2 && text(shownLength(Math.hypot(x2 - x1, y2 - y1)), (x1 + x2) / 2 + size, -(y1 + y2) / 2 - size, "name")));
}

export function clearGhost(plan) {
  plan.layers.handles.querySelector(".ghost")?.remove();
}

// Lines a metre (2 ft) apart while walls are drawn.
export function drawGrid(plan) {
  const step = editor.units === "us" ? 0.6096 : 1;
  const [x, y, w, h] = plan.box || [0, 0, 0, 0];
  if (editor.mode !== "walls" || plan.scale * step < 8) return plan.layers.ground.replaceChildren();
  const lines = [];
  for (let i = Math.ceil(x / step); i * step < x + w; i += 1) lines.push(`M${i * step},${y}V${y + h}`);
  for (let i = Math.ceil(y / step); i * step < y + h; i += 1) lines.push(`M${x},${i * step}H${x + w}`);
  return plan.layers.ground.replaceChildren(svgEl("path", { class: "grid", d: lines.join("") }));
}

// The name of a new thing, typed on the plan.


export function nameOnPlan(plan, kind, name) {
  byId("inline-name")?.remove();
  const thing = house()?.[`${kind}s`]?.[name];
  if (!thing) return;
  const frame = byId("plans").getBoundingClientRect();
  const [x, y] = plan.onScreen(thing.label);
  let over = false;
  const done = async (keep) => {
    if (over) return;
    over = true;
    const called = input.value.trim();
    input.remove();
    if (keep && called && called !== name && await edit(`rename ${name}`, [{ path: [`${kind}s`, name], rename: called }])) select(kind, called);
  };
  const input = el("input", { type: "text", id: "inline-name", value: name, "aria-label": `Name of ${name}`, autocomplete: "off", spellcheck: "false",
    onblur: () => done(true),
    onkeydown: (e) => {
      e.stopPropagation();
      if (e.key === "Enter") done(true);
      if (e.key === "Escape") done(false);
    } });
  byId("plans").append(input);
  input.style.left = `${Math.max(4, x - frame.left - input.offsetWidth / 2)}px`;
  input.style.top = `${Math.max(4, y - frame.top - input.offsetHeight / 2)}px`;
  input.focus({ preventScroll: true });
  input.select();
}
