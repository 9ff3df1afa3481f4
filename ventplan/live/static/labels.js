// Words on the plan that move out of each other's way: each has places that it can take, near ones first, and keeps the
// one it has as long as that is free.

import { inside } from "./geometry.js";

const LINE = 1.25; // of the size of the letters
const WIDE = 0.56; // mean width of a letter, of its size
const meets = (a, b) => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];

// In pixels from where the words belong: rings of growing size, the preferred side first; a room's within its walls.
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
