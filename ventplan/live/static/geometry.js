// Plane geometry in metres: x to the right, y up the plan. On the screen y runs down, so it is negated there.

export const at = ([x, y]) => `${+x.toFixed(4)},${+(-y).toFixed(4)}`;
export const path = (points, closed = false) => `M${points.map(at).join("L")}${closed ? "Z" : ""}`;
export const dot = (a, b) => a[0] * b[0] + a[1] * b[1];
export const add = (a, b, k = 1) => [a[0] + b[0] * k, a[1] + b[1] * k];
export const minus = (a, b) => [a[0] - b[0], a[1] - b[1]];
export const length = (a) => Math.hypot(a[0], a[1]);
export const clamp = (v, low, high) => Math.min(Math.max(v, low), high);
export const snap = (v, step) => Math.round(v / step) * step;
export const degrees = (r) => (r * 180) / Math.PI;

export function unit(a) {
  const size = length(a) || 1;
  return [a[0] / size, a[1] / size];
}

export function inside(point, corners) {
  let odd = false;
  corners.forEach(([x1, y1], i) => {
    const [x2, y2] = corners[(i + 1) % corners.length];
    if (y1 > point[1] !== y2 > point[1] && point[0] < ((x2 - x1) * (point[1] - y1)) / (y2 - y1) + x1) odd = !odd;
  });
  return odd;
}

export function toSegment(point, a, b) {
  const way = minus(b, a);
  const share = clamp(dot(minus(point, a), way) / (dot(way, way) || 1), 0, 1);
  const near = add(a, way, share);
  return { distance: length(minus(point, near)), along: share * length(way), near };
}

export function toOutline(point, corners) {
  return Math.min(...corners.map((c, i) => toSegment(point, c, corners[(i + 1) % corners.length]).distance));
}

// Frame of an opening: u from its start to its end, n from the given place through it.
export function frame(opening, place) {
  const u = unit(minus(opening.end, opening.start));
  const sign = opening.joins[0] === place ? 1 : -1;
  return { u, n: [opening.normal[0] * sign, opening.normal[1] * sign] };
}

// Middle of the free part, which begins at the start of the frame or at its end.
export function freeMiddle(opening, share) {
  const across = opening.along_width ? share : 1;
  return add(opening.start, minus(opening.end, opening.start), opening.opens === "end" ? 1 - across / 2 : across / 2);
}

export function fanSpot(opening, share, fan) {
  const { u, n } = frame(opening, fan.stands_in);
  if (fan.sealed) return { at: freeMiddle(opening, 1), way: n };
  const turn = (fan.turn_deg * Math.PI) / 180;
  return {
    at: add(add(freeMiddle(opening, share), n, -fan.setback_m), u, fan.aside_m),
    way: add([n[0] * Math.cos(turn), n[1] * Math.cos(turn)], u, Math.sin(turn)),
  };
}

export function bounds(points) {
  const xs = points.map((p) => p[0]);
  const ys = points.map((p) => p[1]);
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}
