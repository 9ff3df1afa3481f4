// Drawing the house: rooms are resized and moved, doors and windows are put on walls and moved along them. Each step is one
// change of the file's text. Rectangles are drawn in sketch.js.

import { svgEl } from "./dom.js";
import { change, edit, editor, house, select } from "./editor.js";
import { add, bounds, clamp, dot, minus, snap, toSegment, unit } from "./geometry.js";
import { measure, measureHover, measuring, movePhoto } from "./photo.js";
import { beginSketch, BOXES, cancelSketch, clearGhost, finishSketch, freeName, ghost, grid, growSketch, guides, sketching, snapped, snappedPoint } from "./sketch.js";
import { lengthText } from "./units.js";

// Usual width and height [m]; for readers in feet a door is 32 by 80 in.
const METRIC = { door: [0.8, 2.0], window: [1.2, 1.2], passage: [1.0, 2.0] };
const AMERICAN = { door: [0.8128, 2.032], window: [1.2192, 1.2192], passage: [0.9144, 2.032] };
const sizes = (kind) => (editor.units === "us" ? AMERICAN : METRIC)[kind];
const sill = () => (editor.units === "us" ? 0.9144 : 0.9);

export const walls = { begin, hover, move, end };

function begin(plan, drag, event) {
  if (BOXES.includes(editor.tool)) {
    drag.job = sketching() ? "finish" : "sketch";
    beginSketch(plan, drag.start);
    return true;
  }
  if (measuring() || editor.tool === "shift") {
    drag.job = editor.tool;
    return true;
  }
  if (editor.tool) {
    drag.job = "new opening";
    return true;
  }
  const pull = event.target.dataset.pull;
  if (pull) Object.assign(drag, { job: "pull", pull, room: editor.selected.name });
  else if (drag.thing?.kind === "room" && editor.selected?.name === drag.thing.name) drag.job = "move room";
  else if (drag.thing?.kind === "opening") drag.job = "slide";
  else if (drag.thing?.kind === "obstacle") drag.job = "move furniture";
  return Boolean(drag.job);
}

function move(plan, drag, point, event) {
  const off = minus(point, drag.start);
  if (drag.job === "sketch" || drag.job === "finish") growSketch(plan, point);
  else if (drag.job === "shift") {
    movePhoto(plan, minus(point, drag.photo || drag.start));
    drag.photo = point;
  } else if (drag.job === "move room") ghost(plan, (drag.corners = movedCorners(plan, drag.thing.name, off)));
  else if (drag.job === "pull") ghost(plan, (drag.corners = pulledCorners(plan, drag.room, drag.pull, point)));
  else if (drag.job === "move furniture") {
    guides.fill(null);
    ghost(plan, (drag.corners = house().obstacles[drag.thing.name].corners.map((c) => c.map((v, i) => snap(v + off[i], grid() / 2)))));
  } else if (drag.job === "slide") {
    drag.along = slidTo(drag.thing.name, off);
    const { on_wall: wall, start, end: tail } = house().openings[drag.thing.name];
    guides.fill(null);
    if (wall) ghost(plan, [start, tail].map((p) => add(p, wall.way, drag.along - wall.along_m)));
  } else if (drag.job === "new opening") hover(plan, event);
}

function movedCorners(plan, name, off) {
  const { corners } = house().rooms[name];
  const [x1, y1, x2, y2] = bounds(corners);
  const best = (low, high, by, axis) => {
    const options = [snapped(plan, low + by, axis, name) - low, snapped(plan, high + by, axis, name) - high];
    return options.sort((a, b) => Math.abs(a - by) - Math.abs(b - by))[0];
  };
  const by = [best(x1, x2, off[0], 0), best(y1, y2, off[1], 1)];
  return corners.map((c) => add(c, by));
}

// Move an edge ("edge 2") at right angles to itself, or a corner ("corner 2") anywhere.
function pulledCorners(plan, name, pull, point) {
  const { corners } = house().rooms[name];
  const [what, number] = pull.split(" ");
  const i = Number(number);
  const j = (i + 1) % corners.length;
  const spot = snappedPoint(plan, point, name);
  if (what === "corner") return corners.map((c, k) => (k === i ? spot : c));
  const way = unit(minus(corners[j], corners[i]));
  const out = [way[1], -way[0]];
  const by = dot(minus(Math.abs(out[0]) > 0.999 || Math.abs(out[1]) > 0.999 ? spot : point, corners[i]), out);
  return corners.map((c, k) => (k === i || k === j ? add(c, out, by) : c));
}

function slidTo(name, off) {
  const { on_wall: wall } = house().openings[name];
  return wall && clamp(snap(wall.along_m + dot(off, wall.way), grid() / 2), wall.low_m, wall.high_m);
}

function end(plan, drag, point, cancelled) {
  if (cancelled) {
    cancelSketch(plan);
    clearGhost(plan);
  } else if (drag.job === "sketch" && !drag.moved) growSketch(plan, point); // the second corner is clicked
  else if (drag.job === "sketch" || drag.job === "finish") {
    growSketch(plan, point);
    finishSketch(plan);
  } else if (drag.job === "scale") measure(plan, point);
  else if (drag.job === "new opening") putOpening(plan, point);
  else {
    clearGhost(plan);
    if (drag.job !== "shift") place(drag);
  }
}

function place(drag) {
  if (!drag.moved) select(drag.thing?.kind || "room", drag.thing?.name || drag.room);
  else if (drag.job === "move furniture") {
    const [x, y] = bounds(drag.corners);
    const { written } = house().obstacles[drag.thing.name];
    edit(`move ${drag.thing.name}`, [written.corners ? { path: ["obstacles", drag.thing.name, "corners"], set: drag.corners.map((c) => c.map(lengthText)) } : { path: ["obstacles", drag.thing.name, "at"], set: [lengthText(x), lengthText(y)] }]);
  } else if (drag.corners) reshape(drag.room || drag.thing.name, drag.corners);
  else if (drag.job === "slide" && drag.along !== null) {
    select("opening", drag.thing.name);
    edit(`move ${drag.thing.name}`, [{ path: ["openings", drag.thing.name, "along"], set: lengthText(drag.along) }]);
  }
}

export function reshape(name, corners) {
  const written = house().rooms[name].written;
  const [x1, y1, x2, y2] = bounds(corners);
  const changes = written.corners
    ? [{ path: ["rooms", name, "corners"], set: corners.map((c) => c.map(lengthText)) }]
    : [{ path: ["rooms", name, "at"], set: [lengthText(x1), lengthText(y1)] }, { path: ["rooms", name, "size"], set: [lengthText(x2 - x1), lengthText(y2 - y1)] }];
  return edit(`change ${name}`, changes);
}

function siteAt(plan, point, kind) {
  const here = house().sites.filter((s) => s.joins.some((r) => plan.storey.rooms.includes(r)));
  const found = here.map((s) => ({ site: s, ...toSegment(point, s.start, s.end) }))
    .filter((f) => f.distance < 0.8 && f.site.length_m > 0.4).sort((a, b) => a.distance - b.distance)[0];
  if (!found) return null;
  const width = Math.min(sizes(kind)[0], found.site.length_m - 0.1);
  const low = clamp(snap(found.along - width / 2, grid() / 2), 0, found.site.length_m - width);
  return { ...found, width, low };
}

function hover(plan, event) {
  if (sketching()) return growSketch(plan, plan.point(event));
  if (measuring()) return measureHover(plan, plan.point(event));
  if (!sizes(editor.tool)) return null;
  const found = siteAt(plan, plan.point(event), editor.tool);
  clearGhost(plan);
  guides.fill(null);
  if (!found) return null;
  const way = unit(minus(found.site.end, found.site.start));
  return ghost(plan, [add(found.site.start, way, found.low), add(found.site.start, way, found.low + found.width)]);
}

function putOpening(plan, point) {
  const found = siteAt(plan, point, editor.tool);
  if (found) addOpening(found.site, editor.tool, found.low, found.width);
}

// An opening on a piece of wall; also from the keyboard, in the middle of the wall.
export async function addOpening(site, kind, low = null, width = Math.min(sizes(kind)[0], site.length_m - 0.1)) {
  const from = low === null ? (site.length_m - width) / 2 : low;
  const [first, second] = site.joins;
  const name = freeName("openings", second === "outdoors" ? `${first} ${kind}` : `${first} to ${second}`);
  const value = { kind, joins: [first, second] };
  if (site.wall !== null) value.wall = site.wall;
  value.along = lengthText(site.along_m + from);
  value.size = [lengthText(width), lengthText(sizes(kind)[1])];
  if (kind === "window") Object.assign(value, { sill: lengthText(sill()), sash: "sliding" });
  if (kind === "door" && second !== "outdoors") value.open = "yes"; // people leave inner doors open; windows are opened in a scenario
  if (await edit(`add ${name}`, [{ path: ["openings", name], add: value }])) select("opening", name);
}

export function nudge(thing, arrow, times) {
  const by = arrow.map((a) => a * grid() * times);
  if (thing.kind === "room") reshape(thing.name, house().rooms[thing.name].corners.map((c) => add(c, by)));
  else if (thing.kind === "opening") {
    const along = slidTo(thing.name, by);
    if (along !== null) edit(`move ${thing.name}`, [{ path: ["openings", thing.name, "along"], set: lengthText(along) }]);
  }
}

// A fan is removed from the scenario; a room with its openings, an opening with its mentions in scenarios.
export function removeThing(thing) {
  if (thing.kind === "fan") {
    return change(`take ${thing.name} away`, (s) => (s.fans = s.fans.filter((f) => f.fan !== thing.name)));
  }
  if (editor.mode !== "walls") return null;
  if (thing.kind === "obstacle") return edit(`remove ${thing.name}`, [{ path: ["obstacles", thing.name], forget: true }]);
  const gone = thing.kind === "opening" ? [thing.name] : Object.entries(house().openings).filter(([, o]) => o.joins.includes(thing.name)).map(([n]) => n);
  const changes = gone.map((name) => ({ path: ["openings", name], forget: true }));
  if (thing.kind === "room") changes.push({ path: ["rooms", thing.name], forget: true });
  return edit(`remove ${thing.name}`, changes);
}

// Handles on the selected room.
export function drawHandles(plan) {
  plan.layers.handles.replaceChildren();
  const room = editor.mode === "walls" && editor.selected?.kind === "room" && house()?.rooms[editor.selected.name];
  if (!room || !plan.storey.rooms.includes(editor.selected.name)) return;
  const size = 8 / plan.scale;
  room.corners.forEach((c, i) => {
    const next = room.corners[(i + 1) % room.corners.length];
    const middle = [(c[0] + next[0]) / 2, (c[1] + next[1]) / 2];
    plan.layers.handles.append(svgEl("rect", { class: "pull", "data-pull": `edge ${i}`, x: middle[0] - size, y: -middle[1] - size, width: 2 * size, height: 2 * size }));
    if (room.written.corners) plan.layers.handles.append(svgEl("circle", { class: "pull", "data-pull": `corner ${i}`, cx: c[0], cy: -c[1], r: size }));
  });
}
