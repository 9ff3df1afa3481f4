// Air on a plan: bands as wide as their flow, jets, arrows, tints and words. The program sends every shape; here they
// are put into the page, each element used again where it can be.

import { bounds, fanSpot } from "./geometry.js";
import { keep, mark, say, shape } from "./dom.js";
import { place } from "./labels.js";

export const FLOWS_FROM = 30; // pixels a metre from which flows are written at the windows
const node = ([kind, d, opacity]) => shape("path", { class: kind, d, opacity });

// Paths that may change with every answer; elements stay, their attributes change.
function fill(layer, shapes) {
  while (layer.children.length > shapes.length) layer.lastChild.remove();
  shapes.forEach(([kind, d, opacity], i) => {
    const child = layer.children[i] || layer.appendChild(shape("path", {}));
    mark(child, "class", kind);
    mark(child, "d", d);
    if (opacity === undefined) child.removeAttribute("opacity");
    else mark(child, "opacity", opacity);
  });
}

export function drawStreams(plan, picture, storey) {
  const air = picture?.streams?.[storey];
  plan.layers.streams.replaceChildren(...(air?.bands || []).map(node));
  plan.layers.marks.replaceChildren(...(air?.marks || []).map(node));
  plan.levels = air?.levels || [];
  plan.particles?.show(air?.ways || []);
}

// A moment of a course over time has colours and figures of its own.
export function drawAir(plan, answer, selected, moment = null) {
  const { layers, house, storey, state } = plan;
  if (!house || !state) return;
  const here = (jet) => (jet.place === "outdoors" ? storey.openings.includes(jet.opening) : storey.rooms.includes(jet.place));
  fill(layers.jets, (answer?.jets || []).filter(here).flatMap((jet) => jet.shapes));
  const tints = (moment || answer?.tints)?.rooms || {};
  for (const floor of layers.floors.querySelectorAll("[data-kind=room]")) {
    const { name } = floor.dataset;
    const [colour, text] = tints[name] || ["", ""];
    mark(floor, "data-tint", colour.replace(" ", "-"));
    mark(floor, "aria-label", `${name}, room, ${house.rooms[name].size}${text ? `, ${text}` : ""}`);
  }
  fill(layers.arrows, storey.openings.flatMap((name) => (answer?.arrows?.[name] ? [["arrow", answer.arrows[name]]] : [])));
  drawLabels(plan, answer, selected, tints);
}

function drawLabels(plan, answer, selected, tints) {
  const { house, storey, layers, state, scale } = plan;
  const wanted = storey.rooms.map((name) => roomLabel(name, house.rooms[name], tints[name]?.[1], answer?.cut_off.includes(name), scale));
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
  const nodes = words.map((w) => old.get(keyOf(w)) || shape("text", { class: w.kind, x: w.x, y: w.y, "font-size": w.size, "data-key": keyOf(w), "data-of": w.of }, w.text));
  nodes.forEach((n, i) => say(n, words[i].text));
  keep(layers.labels, nodes);
}

const keyOf = ({ x, y, size, kind }) => [x, y, size, kind].join(" ");

// A name broken or written smaller where its room is narrow; without its figure where that has no room.
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
