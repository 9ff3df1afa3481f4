// Drawing a rectangle: a room, furniture or stairs. Press and drag, or click two corners; meanwhile a length can be
// typed, then Enter, then the other one. Tools stay in hand until another is taken or Escape puts them down.

import { bounds, inside } from "./geometry.js";
import { edit, hand, house, levelInHand, select } from "./hand.js";
import { lengthText, metres } from "./lengths.js";
import { nameOnPlan } from "./inline.js";
import { notice } from "./draft.js";
import { clearGhost, ghost, guides, snappedPoint } from "./snap.js";

export const BOXES = ["room", "furniture", "stairs"];
const LEAST_M = 0.25;
let sketch = null; // tool, from, to, typed, at

export const sketching = () => Boolean(sketch);

export function beginSketch(plan, point) {
  if (sketch) return;
  const from = snappedPoint(plan, point);
  sketch = { tool: hand.tool, from, to: from, typed: ["", ""], at: 0 };
}

// Typed lengths hold, whichever way the pointer went.
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
  const level = levelInHand();
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
  const shown = house()?.storeys[hand.storey]?.rooms || [];
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
