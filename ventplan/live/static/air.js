// Air on a plan: bands as wide as their flow, jets as the solver has them, arrows at openings, tints and words.

import { add, bounds, freeMiddle, path, unit, minus } from "./geometry.js";
import { FLOWS_FROM } from "./plan.js";
import { keep, mark, outlines, say, shape } from "./dom.js";

export function drawStreams(plan, picture, storey) {
  const streams = picture?.streams?.[storey] || [];
  plan.layers.streams.replaceChildren(...streams.flatMap((s) => {
    const d = path(s.points);
    const width = Math.max(s.width_m, 0.03);
    return [
      shape("path", { class: "band", d, "stroke-width": width.toFixed(3) }),
      shape("path", { class: "drift", d, "stroke-width": Math.min(width, 0.07).toFixed(3) }),
    ];
  }));
}

export function drawAir(plan, answer, selected) {
  const { layers, house, storey, scale, state } = plan;
  if (!house || !state) return;
  const jets = (answer?.jets || []).filter((j) => j.low.length && storey.rooms.concat("outdoors").includes(j.stands_in)
    && (j.stands_in !== "outdoors" || storey.openings.includes(j.opening)));
  outlines(layers.jets, "jet", jets.flatMap(jetShapes));
  for (const floor of layers.floors.querySelectorAll("[data-kind=room]")) {
    const air = answer?.rooms[floor.dataset.name];
    mark(floor, "data-tint", air ? air.tint : 0);
    const room = house.rooms[floor.dataset.name];
    mark(floor, "aria-label", `${floor.dataset.name}, room, ${room.size}${air ? `, ${air.air_change} air changes` : ""}`);
  }
  outlines(layers.arrows, "arrow", storey.openings.flatMap((name) => arrow(plan, name, answer?.openings[name])));
  drawLabels(plan, answer, selected, scale);
}

function jetShapes(jet) {
  const shapes = [];
  for (let end = jet.low.length - 1; end > 0; end -= 3) {
    shapes.push(path([...jet.low.slice(0, end + 1), ...jet.high.slice(0, end + 1).reverse()], true));
  }
  return shapes;
}

function arrow(plan, name, air) {
  const opening = plan.house.openings[name];
  if (!air || opening.flat || Math.abs(air.forward_m3_s - air.backward_m3_s) < 0.004) return [];
  const share = plan.state.shares[name] ?? 0;
  if (share <= 0) return [];
  const net = air.forward_m3_s - air.backward_m3_s;
  const way = net > 0 ? opening.normal : [-opening.normal[0], -opening.normal[1]];
  const side = unit(minus(opening.end, opening.start));
  const size = Math.min(0.2 + 0.42 * Math.sqrt(Math.abs(net)), 0.6);
  const middle = freeMiddle(opening, share);
  const corners = [add(add(middle, way, -size / 2), side, size * 0.42), add(middle, way, size * 0.62), add(add(middle, way, -size / 2), side, -size * 0.42)];
  return [path(corners, true)];
}

function drawLabels(plan, answer, selected, scale) {
  const { house, storey, layers, state } = plan;
  const labels = [];
  for (const name of storey.rooms) {
    const room = house.rooms[name];
    const [x1, y1, x2, y2] = bounds(room.corners);
    const wide = ((room.corners.length > 4 ? (x2 - x1) * 0.6 : x2 - x1)) * scale;
    const tall = (y2 - y1) * scale;
    const size = Math.max(9, Math.min(scale < 25 ? 11 : 13.5, wide / 7.5));
    const lines = name.length * size * 0.56 > wide && name.includes(" ") ? name.split(" ") : [name];
    if (Math.max(...lines.map((l) => l.length)) * size * 0.56 > wide + 4) continue; // zoom in to read it
    const air = answer?.rooms[name];
    const cut = answer?.cut_off.includes(name);
    const all = [...lines.map((t) => [t, "name"]), ...(air && tall > (lines.length + 1) * size * 1.3 ? [[cut ? "cut off" : air.air_change, "rate"]] : [])];
    all.forEach(([text, kind], i) => labels.push(label(text, room.label, (i - (all.length - 1) / 2) * size * 1.25, size, kind, scale)));
  }
  for (const name of storey.openings) {
    const opening = house.openings[name];
    const air = answer?.openings[name];
    const chosen = selected?.kind === "opening" && selected.name === name;
    const open = (state.shares[name] ?? 0) > 0 && air && Math.abs(air.forward_m3_s - air.backward_m3_s) > 0.004;
    if (!(open && (chosen || (scale > FLOWS_FROM && opening.joins[1] === "outdoors"))) || opening.flat) continue;
    const [nx, ny] = opening.normal;
    const spot = add(freeMiddle(opening, 0.5), opening.normal, 0.45 + (Math.abs(nx) * air.flow.length * 3.3 + Math.abs(ny) * 6) / scale);
    labels.push(label(air.flow, spot, 0, 11, "flow", scale));
    if (chosen && air.reading_m_s !== null) labels.push(label(`reads ${air.reading}`, spot, 13, 11, "flow", scale));
  }
  const old = new Map([...layers.labels.children].map((node) => [node.dataset.key, node]));
  const nodes = labels.map((found) => old.get(keyOf(found)) || word(found));
  nodes.forEach((node, i) => say(node, labels[i].text));
  keep(layers.labels, nodes);
}

const keyOf = ({ x, y, size, kind }) => [x, y, size, kind].join(" ");
const label = (text, [x, y], drop, size, kind, scale) => ({ text, kind, x: x.toFixed(3), y: (-y + drop / scale).toFixed(3), size: (size / scale).toFixed(4) });

function word(found) {
  return shape("text", { class: found.kind, x: found.x, y: found.y, "font-size": found.size, "data-key": keyOf(found) }, found.text);
}
