// The setback curve of the selected fan, with the point where it stands now.

import { el, byId, setAttr, svgEl, setContent } from "./dom.js";
import { fanOf, editor, emit } from "./editor.js";
import { LatestRequest } from "./server.js";
import { shownLength } from "./units.js";

const WIDE = 320;
const HIGH = 170;
const PAD = [44, 10, 12, 30]; // left, right, top, bottom
let drawn = null;
let asked = "";

const asker = new LatestRequest("curve", (answer, body) => {
  drawn = { ...answer, of: body.of };
  drawCurve();
}, (error) => setContent(byId("curve"), el("h2", {}, "Setback"), el("p", { class: "quiet" }, error.message)));

// What the curve depends on: everything except this fan's setback.
function subject(fan) {
  const rest = { ...editor.state, fans: editor.state.fans.map((f) => (f.fan === fan.fan ? [f.fan, f.opening, f.stands_in, f.setting] : f)) };
  return JSON.stringify([editor.scenario, editor.units, editor.page.revision && rest]);
}

export function refreshCurve() {
  const fan = editor.selected?.kind === "fan" ? fanOf(editor.selected.name) : null;
  byId("curve").hidden = !fan || fan.sealed;
  if (!fan || fan.sealed) return;
  const of = subject(fan);
  if (drawn?.of === of) return drawCurve();
  if (editor.dragging || asked === of) return drawn?.fan === fan.fan ? drawCurve() : null;
  asked = of;
  setContent(byId("curve"), el("h2", {}, "Setback"), el("p", { class: "quiet" }, "The curve is being computed…"));
  asker.put({ scenario: editor.scenario, state: editor.state, units: editor.units, fan: fan.fan, of });
}

// The curve for the present screens.
function inForce(fan) {
  const on = editor.state.screened.includes(fan.opening);
  return drawn?.curves.find((c) => c.screens_on === on) || drawn?.curves[0];
}

// The strip of floor where the fan may stand for at least nine tenths of the best flow.
export function goodRangeStrip() {
  const fan = editor.selected?.kind === "fan" ? fanOf(editor.selected.name) : null;
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
  const fan = editor.selected?.kind === "fan" ? fanOf(editor.selected.name) : null;
  if (!drawn || !fan || drawn.fan !== fan.fan || drawn.opening !== fan.opening) return;
  const stale = drawn.of !== subject(fan);
  const ring = byId("curve").querySelector("circle.here");
  const driven = editor.answer?.fans.find((f) => f.fan === fan.fan)?.driven_m3_s;
  const here = typeof fan.setback_m === "number" && driven !== null && driven !== undefined ? [fan.setback_m * drawn.metre, driven * drawn.flow_unit] : null;
  if (ring && here && ring.of === drawn) {
    ring.place(here);
    ring.ownerSVGElement.classList.toggle("stale", stale);
    const words = byId("curve").querySelector(".off-aim");
    words.textContent = offAim(fan);
    return;
  }
  const top = Math.max(...drawn.curves.flatMap((c) => c.flow), drawn.blades) * 1.08 || 1;
  const low = Math.min(0, ...drawn.curves.flatMap((c) => c.flow));
  const right = Math.max(...drawn.curves.flatMap((c) => c.setback));
  const x = (v) => PAD[0] + (v / right) * (WIDE - PAD[0] - PAD[1]);
  const y = (v) => HIGH - PAD[3] - ((v - low) / (top - low)) * (HIGH - PAD[2] - PAD[3]);
  const line = (c) => `M${c.setback.map((s, i) => `${x(s).toFixed(1)},${y(c.flow[i]).toFixed(1)}`).join("L")}`;
  const now = svgEl("circle", { class: "here", r: 5.5 });
  now.of = drawn;
  now.place = ([setback, flow]) => {
    setAttr(now, "cx", x(Math.min(setback, right)).toFixed(2));
    setAttr(now, "cy", y(Math.min(Math.max(flow, low), top)).toFixed(2));
  };
  if (here) now.place(here);
  const label = (text, px, py, anchor = "middle") => svgEl("text", { x: px, y: py, "text-anchor": anchor }, text);
  const digits = top > 20 ? 0 : 2;
  setContent(byId("curve"), el("h2", {}, "Setback"), svgEl("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", class: stale ? "stale" : "", "aria-label": drawn.curves.map((c) => c.words).join(". ") },
    ticks(right).map((t) => [svgEl("path", { class: "grid", d: `M${x(t)},${PAD[2]}V${y(low)}` }), label(String(t), x(t), HIGH - 16)]),
    ticks(top).map((t) => [svgEl("path", { class: "grid", d: `M${PAD[0]},${y(t)}H${WIDE - PAD[1]}` }), label(t.toFixed(t % 1 ? digits : 0), PAD[0] - 5, y(t) + 3, "end")]),
    inForce(fan) && svgEl("path", { class: "good", d: `M${x(inForce(fan).good[0])},${PAD[2]}H${x(inForce(fan).good[1])}V${y(low)}H${x(inForce(fan).good[0])}Z` }),
    svgEl("path", { class: "own", d: `M${PAD[0]},${y(drawn.blades)}H${WIDE - PAD[1]}` }),
    drawn.curves.map((c) => svgEl("path", { class: `line ${c.screens}`, d: line(c) })),
    drawn.curves.map((c) => svgEl("circle", { class: `best ${c.screens}`, cx: x(c.best[0]), cy: y(c.best[1]), r: 3.5 })),
    here && now,
    label(`setback, ${drawn.units[0]}`, WIDE / 2 + 15, HIGH - 3), label(drawn.units[1], PAD[0] - 5, 9, "end")),
  el("ul", { class: "plain key" }, drawn.curves.map((c) => el("li", { class: c.screens }, c.words)), el("li", { class: "good" }, "shaded, here and on the plan: where it gives at least 90 % of the best flow"),
    el("li", { class: "own" }, "dotted: flow through the fan's own blades"), el("li", { class: "here" }, "ring: where it stands now")),
  el("p", { class: "off-aim quiet" }, offAim(fan)));
  emit("strip");
}

function ticks(top) {
  const step = [0.05, 0.1, 0.2, 0.25, 0.5, 1, 2, 5, 10, 50, 100, 200, 250, 500, 1000, 2000].find((s) => top / s <= 6) || top;
  return Array.from({ length: Math.floor(top / step) + 1 }, (_, i) => +(i * step).toFixed(3));
}
