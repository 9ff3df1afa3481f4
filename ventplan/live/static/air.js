// The air on a plan: bands as wide as their flow, jets, arrows, room colours and labels. The program sends every shape;
// this module puts them into the page and reuses elements where it can.

import { setChildren, setAttr, setText, svgEl } from "./dom.js";
import { bounds, fanSpot, inside } from "./geometry.js";

export const FLOWS_FROM = 30; // pixels a metre from which flows are written at the windows
const node = ([kind, d, opacity]) => svgEl("path", { class: kind, d, opacity });

// Paths that may change with every answer: the elements stay and their attributes change.
function fill(layer, shapes) {
  while (layer.children.length > shapes.length) layer.lastChild.remove();
  shapes.forEach(([kind, d, opacity], i) => {
    const child = layer.children[i] || layer.appendChild(svgEl("path", {}));
    setAttr(child, "class", kind);
    setAttr(child, "d", d);
    if (opacity === undefined) child.removeAttribute("opacity");
    else setAttr(child, "opacity", opacity);
  });
}

export function drawStreams(plan, picture, storey) {
  const air = picture?.streams?.[storey];
  plan.layers.streams.replaceChildren(...(air?.bands || []).map(node));
  plan.layers.marks.replaceChildren(...(air?.marks || []).map(node));
  plan.levels = air?.levels || [];
  plan.particles?.show(air?.ways || []);
}

// `moment` replaces the colours and numbers of the rooms by those of a moment over time.
export function drawAir(plan, answer, selected, moment = null) {
  const { layers, house, storey, state } = plan;
  if (!house || !state) return;
  const here = (jet) => (jet.place === "outdoors" ? storey.openings.includes(jet.opening) : storey.rooms.includes(jet.place));
  fill(layers.jets, (answer?.jets || []).filter(here).flatMap((jet) => jet.shapes));
  const tints = (moment || answer?.tints)?.rooms || {};
  for (const floor of layers.floors.querySelectorAll("[data-kind=room]")) {
    const { name } = floor.dataset;
    const [colour, text] = tints[name] || ["", ""];
    setAttr(floor, "data-tint", colour.replace(" ", "-"));
    setAttr(floor, "aria-label", `${name}, room, ${house.rooms[name].size}${text ? `, ${text}` : ""}`);
  }
  fill(layers.arrows, storey.openings.flatMap((name) => (answer?.arrows?.[name] ? [["arrow", answer.arrows[name]]] : [])));
  drawLabels(plan, answer, selected, tints);
}

function drawLabels(plan, answer, selected, tints) {
  const { house, storey, layers, state, scale } = plan;
  const wanted = [...storey.rooms, ...storey.passing].map((name) => roomLabel(name, house.rooms[name], tints[name]?.[1], answer?.isolated_rooms.includes(name), scale));
  for (const { at, lines } of plan.levels || []) wanted.push({ key: `level ${at}`, at, lines: lines.map((t) => [t, "flow"]), size: 10.5, prefer: [0, -1], apart: 14 });
  for (const name of storey.openings) {
    const found = answer?.labels?.[name];
    const chosen = selected?.kind === "opening" && selected.name === name;
    const outside = house.openings[name].joins[1] === "outdoors";
    if (!found || found.quiet || !found.lines.length || !(chosen || (scale > FLOWS_FROM && outside))) continue;
    const lines = chosen ? found.lines : found.lines.filter((t) => !t.startsWith("reading"));
    wanted.push({ key: name, at: found.at, lines: lines.map((t) => [t, "flow"]), size: 11, prefer: found.prefer, beside: outside, apart: 20, must: chosen });
  }
  const fans = state.fans.filter((f) => plan.shows(f)).map((f) => fanSpot(house.openings[f.opening], state.shares[f.opening] ?? 0, f).at);
  const words = place(wanted, fans, plan);
  const old = new Map([...layers.labels.children].map((n) => [n.dataset.key, n]));
  const nodes = words.map((w) => old.get(keyOf(w)) || svgEl("text", { class: w.kind, x: w.x, y: w.y, "font-size": w.size, "data-key": keyOf(w), "data-of": w.of }, w.text));
  nodes.forEach((n, i) => setText(n, words[i].text));
  setChildren(layers.labels, nodes);
}

const keyOf = ({ x, y, size, kind }) => [x, y, size, kind].join(" ");

// The name is split or written smaller in a narrow room, and the number is left out if it does not fit.
function roomLabel(name, room, value, cut, scale) {
  const [x1, y1, x2, y2] = bounds(room.corners);
  const wide = (room.corners.length > 4 ? (x2 - x1) * 0.6 : x2 - x1) * scale;
  const tall = (y2 - y1) * scale;
  const size = Math.max(9, Math.min(scale < 25 ? 11 : 13.5, wide / 7.5));
  const names = name.length * size * 0.56 > wide && name.includes(" ") ? name.split(" ") : [name];
  const rate = cut ? "isolated" : value;
  const lines = names.map((t) => [t, "name"]);
  if (rate && tall > (lines.length + 1) * size * 1.3) lines.push([rate, "rate"]);
  return { key: `room ${name}`, at: room.label, lines, size, within: room.corners, tight: Math.max(...lines.map(([t]) => t.length)) * size * 0.56 > wide + 4 };
}

// Labels that avoid each other: each has possible places, near ones first, and keeps its place while that is free.


const LINE = 1.25; // of the size of the letters
const WIDE = 0.56; // mean width of a letter, of its size
const meets = (a, b) => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];

// Offsets [px] from where a label belongs: rings of growing size, the preferred side first; within the walls for a room.
function offsets(label, width, height) {
  if (label.within) {
    const steps = [0, 1, -1, 2, -2, 3, -3];
    return steps.flatMap((j) => steps.slice(0, 5).map((i) => [i * width * 0.4, j * height * 0.55]));
  }
  const [px, py] = label.prefer || [0, 0];
  // Beside the arrow of the air that goes through, which points to the preferred side.
  const beside = !label.beside ? [] : [1, -1].map((side) => (Math.abs(px) > Math.abs(py) ? [px * (width / 2 + 10), side * (height / 2 + 15)] : [side * (width / 2 + 15), -py * (height / 2 + 10)]));
  const start = px || py ? Math.atan2(-py, px) : -Math.PI / 2;
  return [...beside, ...[1, 1.5, 2.2, 3].flatMap((far) => [0, 0.4, -0.4, 0.8, -0.8, 1.3, -1.3, 2, -2, 3.1].map((turn) => {
    const reach = label.apart * far;
    const x = Math.cos(start + turn);
    const y = Math.sin(start + turn);
    return [x * (reach + width / 2), y * (reach + height / 2)];
  }))];
}

// Labels: key, at [m], lines of [text, kind], size [px], and within (a room), prefer, apart; back come single lines of text.
export function place(labels, things, plan) {
  const { scale, box } = plan;
  const [left, top] = box;
  const screen = ([x, y]) => [(x - left) * scale, (-y - top) * scale];
  const page = [0, 0, box[2] * scale, box[3] * scale];
  const taken = things.map((at) => { const [x, y] = screen(at); return [x - 13, y - 13, x + 13, y + 13]; });
  plan.places ||= new Map();
  const words = [];
  for (const label of labels) {
    if (label.tight) continue;
    const width = Math.max(...label.lines.map(([t]) => t.length)) * label.size * WIDE + 4;
    const height = label.lines.length * label.size * LINE + 2;
    const [x, y] = screen(label.at);
    const all = offsets(label, width, height);
    const before = plan.places.get(label.key);
    const order = before !== undefined && before < all.length ? [before, ...all.keys()] : [...all.keys()];
    const boxAt = (i) => [x + all[i][0] - width / 2, y + all[i][1] - height / 2, x + all[i][0] + width / 2, y + all[i][1] + height / 2];
    const found = order.find((i) => {
      const b = boxAt(i);
      if (taken.some((t) => meets(b, t))) return false;
      if (label.within) return i === 0 || [[b[0], b[1]], [b[2], b[1]], [b[0], b[3]], [b[2], b[3]]].every(([u, v]) => inside([u / scale + left, -(v / scale + top)], label.within));
      return b[0] >= page[0] && b[1] >= page[1] && b[2] <= page[2] && b[3] <= page[3];
    });
    const kept = found ?? (label.must ? 0 : undefined);
    if (kept === undefined) continue;
    plan.places.set(label.key, kept);
    taken.push(boxAt(kept));
    const [dx, dy] = all[kept];
    label.lines.forEach(([text, kind], i) => words.push({
      text, kind, of: label.key, size: (label.size / scale).toFixed(4),
      x: (label.at[0] + dx / scale).toFixed(3),
      y: (-label.at[1] + (dy + (i - (label.lines.length - 1) / 2) * label.size * LINE) / scale).toFixed(3),
    }));
  }
  return words;
}

// Moving air as specks on a canvas over the plan, which follow the bands at the speed of the air. Off if the reader or the
// system asks for less motion, and paused during a drag so that the numbers come first.

const PER_WAY = 14;
const REDUCED = matchMedia("(prefers-reduced-motion: reduce)");

export const motionWanted = () => localStorage.getItem("ventplan motion") !== "off" && !REDUCED.matches;

export class Particles {
  constructor(canvas, plan) {
    Object.assign(this, { canvas, plan, ways: [], last: 0, running: false });
    plan.particles = this;
    REDUCED.addEventListener("change", () => this.start());
  }

  show(ways) {
    this.ways = ways.map((way) => new Way(way)).filter((way) => way.length > 0.2);
    this.start();
  }

  start() {
    const wanted = motionWanted() && this.ways.length > 0;
    this.canvas.hidden = !wanted;
    if (wanted && !this.running) {
      this.running = true;
      requestAnimationFrame((t) => this.frame(t));
    }
  }

  frame(time) {
    this.running = motionWanted() && this.ways.length > 0;
    if (!this.running) return;
    requestAnimationFrame((t) => this.frame(t));
    const step = Math.min((time - this.last) / 1000, 0.1);
    if (document.hidden || document.body.hasAttribute("data-holding") || step < 0.03) return;
    this.last = time;
    this.draw(step);
  }

  draw(step) {
    const { canvas, plan } = this;
    const ratio = devicePixelRatio || 1;
    const [width, height] = [canvas.clientWidth * ratio, canvas.clientHeight * ratio];
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    const context = canvas.getContext("2d");
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.clearRect(0, 0, width, height);
    if (!plan.box) return;
    const k = plan.scale * ratio;
    const [x0, y0] = [width / 2 - (plan.box[0] + plan.box[2] / 2) * k, height / 2 - (plan.box[1] + plan.box[3] / 2) * k];
    context.setTransform(k, 0, 0, k, x0, y0);
    context.fillStyle = getComputedStyle(canvas).color;
    context.beginPath();
    for (const way of this.ways) {
      for (const speck of way.specks) {
        way.move(speck, step);
        const [x, y] = way.at(speck);
        const size = 1.5 / plan.scale;
        context.moveTo(x + size, -y);
        context.arc(x, -y, size, 0, 2 * Math.PI);
      }
    }
    context.fill();
  }
}

class Way {
  constructor({ points, width_m: width, speeds_m_s: speeds }) {
    Object.assign(this, { points, width, speeds, sums: [0] });
    for (let i = 1; i < points.length; i += 1) this.sums.push(this.sums[i - 1] + Math.hypot(points[i][0] - points[i - 1][0], points[i][1] - points[i - 1][1]));
    this.length = this.sums.at(-1);
    const count = Math.max(2, Math.min(PER_WAY, Math.round(this.length * (1 + 8 * width))));
    this.specks = Array.from({ length: count }, (_, i) => ({ along: (i / count) * this.length, aside: ((i * 0.618) % 1) - 0.5 }));
  }

  // From the speed at the first end to that in the room within a metre, and likewise at the other end.
  speed(along) {
    const [first, middle, last] = this.speeds;
    const from = Math.max(0, 1 - along);
    const to = Math.max(0, 1 - (this.length - along));
    return middle + (first - middle) * from + (last - middle) * to;
  }

  move(speck, step) {
    speck.along += Math.max(this.speed(speck.along), 0.01) * step;
    if (speck.along >= this.length) speck.along -= this.length;
  }

  at({ along, aside }) {
    let i = 1;
    while (i < this.sums.length - 1 && this.sums[i] < along) i += 1;
    const [[ax, ay], [bx, by]] = [this.points[i - 1], this.points[i]];
    const length = this.sums[i] - this.sums[i - 1] || 1;
    const share = (along - this.sums[i - 1]) / length;
    const off = (aside * this.width * 0.8) / length;
    return [ax + (bx - ax) * share - (by - ay) * off, ay + (by - ay) * share + (bx - ax) * off];
  }
}
