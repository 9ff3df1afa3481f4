// How things are drawn in plan, after general architectural practice: a leaf with its swing, panes in the thickness of
// the wall, a screen dashed, a hole overhead dashed with diagonals.

import { add, at, path, unit, minus } from "./geometry.js";
import { shape } from "./dom.js";

const HALF_WALL = 0.06;

function axes(opening) {
  const u = unit(minus(opening.end, opening.start));
  const v = opening.flat ? [-u[1], u[0]] : opening.normal;
  const spot = (a, t) => add(add(opening.start, u, a), v, t);
  return { spot, width: opening.width_m, low: -HALF_WALL, high: opening.gap_m + HALF_WALL };
}

const line = (kind, ...points) => shape("path", { class: kind, d: path(points) });

export function openingShapes(opening, share, screened) {
  const { spot, width, low, high } = axes(opening);
  if (opening.flat) return lying(opening, spot, width, share);
  const shapes = [line("jamb", spot(0, low), spot(0, high)), line("jamb", spot(width, low), spot(width, high))];
  const middle = opening.gap_m / 2;
  const hinged = opening.kind === "door" ? !/slid|pocket|none/.test(opening.sash) : opening.sash === "side hinged";
  const what = opening.kind === "door" ? "leaf" : "pane";
  if (opening.kind === "window") shapes.push(line("face", spot(0, low), spot(width, low)), line("face", spot(0, high), spot(width, high)));
  if (opening.sash === "none") return shapes;
  if (hinged) shapes.push(...leaf(opening, spot, width, share, opening.kind === "door" ? low : high, what));
  else if (share <= 0) shapes.push(line(what, spot(0, middle), spot(width, middle)));
  else if (opening.along_width) {
    const free = width * Math.min(share, 1);
    shapes.push(line(what, spot(free, middle - 0.025), spot(width, middle - 0.025)), line(what, spot(free, middle + 0.025), spot(width, middle + 0.025)));
  } else shapes.push(line(what, spot(0, high + 0.06), spot(width, high + 0.06)), line("ajar", spot(0, middle), spot(width, middle)));
  if (screened) {
    const side = opening.kind === "door" ? high + 0.06 : low - 0.06;
    shapes.push(line("screen", spot(0, side), spot(width, side)));
  }
  return shapes;
}

function leaf(opening, spot, width, share, from, what) {
  const angle = Math.asin(Math.min(Math.max(share, 0), 1));
  if (angle <= 0) return [line(what, spot(0, opening.gap_m / 2), spot(width, opening.gap_m / 2))];
  const side = from < 0 ? -1 : 1;
  const tip = spot(width - width * Math.cos(angle), from + side * width * Math.sin(angle));
  const sweep = at(spot(0, from));
  const turn = crosses(spot(width, from), tip, spot(0, from)) ? 1 : 0;
  return [
    line(what, spot(width, from), tip),
    shape("path", { class: "swing", d: `M${at(tip)}A${width} ${width} 0 0 ${turn} ${sweep}` }),
  ];
}

// Which way round, seen on the screen, the arc runs from b to c about a.
function crosses(a, b, c) {
  return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]) < 0;
}

function lying(opening, spot, width, share) {
  const half = opening.height_m / 2;
  const corners = [spot(0, -half), spot(width, -half), spot(width, half), spot(0, half)];
  const shapes = [shape("path", { class: "overhead", d: path(corners, true) })];
  if (share > 0) shapes.push(line("overhead", corners[0], corners[2]), line("overhead", corners[1], corners[3]));
  return shapes;
}

// A fan from above, blowing to the right: its casing across the axis, and a pointer the way it blows.
export function fanShapes(radius) {
  const box = (r, t) => [t, r];
  return [
    shape("path", { class: "casing", d: path([box(-radius, -0.09), box(radius, -0.09), box(radius, 0.09), box(-radius, 0.09)], true) }),
    shape("path", { class: "pointer", d: path([box(-0.13, 0.12), box(0, 0.42), box(0.13, 0.12)], true) }),
  ];
}
