// Wind and temperatures of the scenario in hand: sliders that solve while they are dragged.

import { el, find, mark, say, show } from "./dom.js";
import { change, hand } from "./hand.js";

const shownC = (c) => (hand.units === "us" ? `${(c * 1.8 + 32).toFixed(0)} °F` : `${c.toFixed(1)} °C`);
const SLIDERS = [
  ["wind", "Wind", 0, 15, 0.25, (s) => s.outdoors.wind_m_s, (s, v) => (s.outdoors.wind_m_s = v), () => hand.weather?.wind],
  ["from", "Wind from", 0, 355, 5, (s) => s.outdoors.wind_from_deg, (s, v) => (s.outdoors.wind_from_deg = v), () => hand.weather?.from],
  ["outdoor", "Outdoors", -15, 45, 0.5, (s) => s.outdoors.temperature_c, (s, v) => (s.outdoors.temperature_c = v), () => hand.weather?.temperature],
  ["indoor", "All rooms", 5, 40, 0.5, (s) => mean(Object.values(s.temperatures_c)), (s, v) => Object.keys(s.temperatures_c).forEach((n) => (s.temperatures_c[n] = v)), (v) => shownC(v)],
];

const mean = (values) => values.reduce((a, b) => a + b, 0) / (values.length || 1);

export function drawWeather() {
  if (!Object.keys(hand.state?.temperatures_c || {}).length) return show(find("weather"), el("p", { class: "quiet" }, "Draw a room first."));
  show(find("weather"), SLIDERS.map(([key, label, min, max, step, get, set]) => el("label", { class: "slide" }, el("span", {}, label),
    el("input", { type: "range", id: `slide-${key}`, min, max, step, value: get(hand.state), oninput: (e) => change(label.toLowerCase(), (s) => set(s, Number(e.target.value)), "soon") }),
    el("output", { for: `slide-${key}` }))));
  refreshWeather();
}

export function refreshWeather() {
  if (!hand.state) return;
  for (const [key, , , , , get, , words] of SLIDERS) {
    const input = find(`slide-${key}`);
    if (!input) continue;
    const value = get(hand.state);
    if (document.activeElement !== input) input.value = value;
    const text = words(value) || String(value);
    mark(input, "aria-valuetext", text);
    say(input.nextElementSibling, text);
  }
}

// The wind on the plan: an arrow in the corner, turned as the plan is turned from north.
export function windArrow(north) {
  const { wind_m_s: speed, wind_from_deg: from } = hand.state.outdoors;
  const to = from - north + 180;
  const seen = [speed, to, hand.weather?.wind].join(" ");
  if (find("wind").dataset.seen === seen) return;
  find("wind").dataset.seen = seen;
  const arrow = el("span", { class: "wind", "aria-hidden": "true" }, el("span", { class: "needle" }, "↑"), el("span", {}, speed > 0.05 ? `wind ${hand.weather?.wind || ""}` : "calm"));
  arrow.firstChild.style.transform = `rotate(${to}deg)`;
  arrow.firstChild.hidden = speed <= 0.05;
  const compass = el("span", { class: "north" }, el("span", { class: "needle" }, "↑"), "N");
  compass.firstChild.style.transform = `rotate(${-north}deg)`;
  arrow.append(compass);
  show(find("wind"), arrow);
}
