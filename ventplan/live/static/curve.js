// The setback curve of the fan in hand, with the point where it stands now.

import { el, find, mark, shape, show } from "./dom.js";
import { fanOf, hand, tell } from "./hand.js";
import { shownLength } from "./lengths.js";
import { Latest } from "./server.js";

const WIDE = 320;
const HIGH = 170;
const PAD = [44, 10, 12, 30]; // left, right, top, bottom
let drawn = null;
let asked = "";

const asker = new Latest("curve", (answer, body) => {
  drawn = { ...answer, of: body.of };
  drawCurve();
}, (error) => show(find("curve"), el("h2", {}, "Setback"), el("p", { class: "quiet" }, error.message)));

// What the curve depends on: everything but how far back this fan stands.
function subject(fan) {
  const rest = { ...hand.state, fans: hand.state.fans.map((f) => (f.fan === fan.fan ? [f.fan, f.opening, f.stands_in, f.setting] : f)) };
  return JSON.stringify([hand.scenario, hand.units, hand.page.revision && rest]);
}

export function refreshCurve() {
  const fan = hand.selected?.kind === "fan" ? fanOf(hand.selected.name) : null;
  find("curve").hidden = !fan || fan.sealed;
  if (!fan || fan.sealed) return;
  const of = subject(fan);
  if (drawn?.of === of) return drawCurve();
  if (hand.dragging || asked === of) return drawn?.fan === fan.fan ? drawCurve() : null;
  asked = of;
  show(find("curve"), el("h2", {}, "Setback"), el("p", { class: "quiet" }, "The curve is being computed…"));
  asker.put({ scenario: hand.scenario, state: hand.state, units: hand.units, fan: fan.fan, of });
}

// The curve with the screens as they are now.
function inForce(fan) {
  const on = hand.state.screened.includes(fan.opening);
  return drawn?.curves.find((c) => c.screens_on === on) || drawn?.curves[0];
}

// The strip of floor where the fan may stand for at least nine tenths of the best flow.
export function goodStrip() {
  const fan = hand.selected?.kind === "fan" ? fanOf(hand.selected.name) : null;
  return fan && drawn?.fan === fan.fan && drawn.of === subject(fan) ? inForce(fan)?.floor : "";
}

// The curve is for a fan in line with its opening and aimed straight at it.
function offAim(fan) {
  const parts = [
    Math.abs(fan.aside_m) > 0.02 && `${shownLength(Math.abs(fan.aside_m))} to one side`,
    Math.abs(fan.turn_deg) > 1 && `turned by ${Math.round(Math.abs(fan.turn_deg))}°`,
    Math.abs(fan.tilt_deg) > 1 && `tilted by ${Math.round(Math.abs(fan.tilt_deg))}°`,
  ].filter(Boolean);
  return parts.length ? `The curve is for a fan in line with the opening and aimed straight at it; this one stands ${parts.join(", ")}, so its ring can lie off the curve.` : "";
}

export function drawCurve() {
  const fan = hand.selected?.kind === "fan" ? fanOf(hand.selected.name) : null;
  if (!drawn || !fan || drawn.fan !== fan.fan || drawn.opening !== fan.opening) return;
  const stale = drawn.of !== subject(fan);
  const ring = find("curve").querySelector("circle.here");
  const driven = hand.answer?.fans.find((f) => f.fan === fan.fan)?.driven_m3_s;
  const here = typeof fan.setback_m === "number" && driven !== null && driven !== undefined ? [fan.setback_m * drawn.metre, driven * drawn.flow_unit] : null;
  if (ring && here && ring.of === drawn) {
    ring.place(here);
    ring.ownerSVGElement.classList.toggle("stale", stale);
    const words = find("curve").querySelector(".off-aim");
    words.textContent = offAim(fan);
    return;
  }
  const top = Math.max(...drawn.curves.flatMap((c) => c.flow), drawn.blades) * 1.08 || 1;
  const low = Math.min(0, ...drawn.curves.flatMap((c) => c.flow));
  const right = Math.max(...drawn.curves.flatMap((c) => c.setback));
  const x = (v) => PAD[0] + (v / right) * (WIDE - PAD[0] - PAD[1]);
  const y = (v) => HIGH - PAD[3] - ((v - low) / (top - low)) * (HIGH - PAD[2] - PAD[3]);
  const line = (c) => `M${c.setback.map((s, i) => `${x(s).toFixed(1)},${y(c.flow[i]).toFixed(1)}`).join("L")}`;
  const now = shape("circle", { class: "here", r: 5.5 });
  now.of = drawn;
  now.place = ([setback, flow]) => {
    mark(now, "cx", x(Math.min(setback, right)).toFixed(2));
    mark(now, "cy", y(Math.min(Math.max(flow, low), top)).toFixed(2));
  };
  if (here) now.place(here);
  const label = (text, px, py, anchor = "middle") => shape("text", { x: px, y: py, "text-anchor": anchor }, text);
  const digits = top > 20 ? 0 : 2;
  show(find("curve"), el("h2", {}, "Setback"), shape("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", class: stale ? "stale" : "", "aria-label": drawn.curves.map((c) => c.words).join(". ") },
    ticks(right).map((t) => [shape("path", { class: "grid", d: `M${x(t)},${PAD[2]}V${y(low)}` }), label(String(t), x(t), HIGH - 16)]),
    ticks(top).map((t) => [shape("path", { class: "grid", d: `M${PAD[0]},${y(t)}H${WIDE - PAD[1]}` }), label(t.toFixed(t % 1 ? digits : 0), PAD[0] - 5, y(t) + 3, "end")]),
    inForce(fan) && shape("path", { class: "good", d: `M${x(inForce(fan).good[0])},${PAD[2]}H${x(inForce(fan).good[1])}V${y(low)}H${x(inForce(fan).good[0])}Z` }),
    shape("path", { class: "own", d: `M${PAD[0]},${y(drawn.blades)}H${WIDE - PAD[1]}` }),
    drawn.curves.map((c) => shape("path", { class: `line ${c.screens}`, d: line(c) })),
    drawn.curves.map((c) => shape("circle", { class: `best ${c.screens}`, cx: x(c.best[0]), cy: y(c.best[1]), r: 3.5 })),
    here && now,
    label(`setback, ${drawn.units[0]}`, WIDE / 2 + 15, HIGH - 3), label(drawn.units[1], PAD[0] - 5, 9, "end")),
  el("ul", { class: "plain key" }, drawn.curves.map((c) => el("li", { class: c.screens }, c.words)), el("li", { class: "good" }, "shaded, here and on the plan: where it gives at least 90 % of the best flow"),
    el("li", { class: "own" }, "dotted: flow through the fan's own blades"), el("li", { class: "here" }, "ring: where it stands now")),
  el("p", { class: "off-aim quiet" }, offAim(fan)));
  tell("strip");
}

function ticks(top) {
  const step = [0.05, 0.1, 0.2, 0.25, 0.5, 1, 2, 5, 10, 50, 100, 200, 250, 500, 1000, 2000].find((s) => top / s <= 6) || top;
  return Array.from({ length: Math.floor(top / step) + 1 }, (_, i) => +(i * step).toFixed(3));
}
