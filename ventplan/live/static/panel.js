// The panel beside the plan: all numbers as tables, cautions, and the weather.

import { el, byId, setAttr, setText, setContent } from "./dom.js";
import { change, fans, editor, house, select } from "./editor.js";
import { shownTemperature } from "./units.js";

export const pick = (kind, name) => el("button", { class: "link", onclick: () => { select(kind, name); byId("thing").scrollIntoView({ block: "nearest" }); } }, name);

export function drawTables() {
  if (!house()) return setContent(byId("tables"));
  setContent(byId("tables"), table("rooms", "Rooms", ["Room", "Outdoor air change rate", "Total exchange", "Pressure"], Object.keys(house().rooms), "room", 3),
    table("openings", "Openings", ["Opening", "Open", "Air", "Reading"], Object.keys(house().openings), "opening", 3));
  fillTables();
}

function table(id, caption, heads, names, kind, cells) {
  return el("table", { id: `table-${id}` }, el("caption", {}, caption), el("thead", {}, el("tr", {}, heads.map((h) => el("th", { scope: "col" }, h)))),
    el("tbody", {}, names.map((name) => el("tr", { "data-name": name }, el("th", { scope: "row" }, pick(kind, name)), Array.from({ length: cells }, () => el("td", {}))))));
}

function fillRows(id, cellsOf) {
  for (const row of document.querySelectorAll(`#table-${id} tbody tr`)) {
    cellsOf(row.dataset.name).forEach((text, i) => {
      setText(row.children[i + 1], text);
    });
  }
}

// During a drag the plan and the selected thing follow at once, the long tables four times a second.
let later = null;
export function refreshTables() {
  if (!editor.dragging) return fillTables();
  later ||= setTimeout(() => { later = null; fillTables(); }, 250);
}

function fillTables() {
  if (!house()) return;
  const answer = editor.answer;
  fillRows("rooms", (name) => {
    const air = answer?.rooms[name];
    return air ? [air.outdoor, air.total, air.pressure] : ["isolated", "–", "–"];
  });
  fillRows("openings", (name) => {
    const air = answer?.openings[name];
    const opening = house().openings[name];
    const way = (editor.state.shares[name] ?? 0) / (opening.full_share || 1);
    const screen = opening.screen ? (editor.state.screened.includes(name) ? ", screen" : ", no screen") : "";
    const fan = fans().find((f) => f.sealed && f.opening === name);
    return [`${fan ? `${fan.fan} sealed in` : way <= 0 ? "shut" : `${Math.round(way * 100)} %`}${screen}`, air?.words || "–", air?.reading || "–"];
  });
}

export function drawCautions() {
  const found = editor.picture?.cautions || [];
  byId("cautions-box").hidden = !found.length;
  const kinds = [...new Set(found.map((c) => c.about))];
  byId("cautions-head").textContent = `Cautions: ${kinds.join("; ")}`;
  setContent(byId("cautions"), kinds.map((about) => {
    const same = found.filter((c) => c.about === about);
    return el("div", { class: "caution" }, el("b", {}, about), el("ul", {}, same.map((c) => el("li", {}, c.computed))), same[0].do, el("small", {}, ` (${same[0].source})`));
  }));
}

// Wind and temperatures of the current scenario: sliders that solve while they are dragged.


const SLIDERS = [
  ["wind", "Wind", 0, 15, 0.25, (s) => s.outdoors.wind_m_s, (s, v) => (s.outdoors.wind_m_s = v), () => editor.weather?.wind],
  ["from", "Wind from", 0, 355, 5, (s) => s.outdoors.wind_from_deg, (s, v) => (s.outdoors.wind_from_deg = v), () => editor.weather?.from],
  ["outdoor", "Outdoors", -15, 45, 0.5, (s) => s.outdoors.temperature_c, (s, v) => (s.outdoors.temperature_c = v), () => editor.weather?.temperature],
  ["indoor", "All rooms", 5, 40, 0.5, (s) => mean(Object.values(s.temperatures_c)), (s, v) => Object.keys(s.temperatures_c).forEach((n) => (s.temperatures_c[n] = v)), shownTemperature],
];

const mean = (values) => values.reduce((a, b) => a + b, 0) / (values.length || 1);

export function drawWeather() {
  if (!Object.keys(editor.state?.temperatures_c || {}).length) return setContent(byId("weather"), el("p", { class: "quiet" }, "Draw a room first."));
  setContent(byId("weather"), SLIDERS.map(([key, label, min, max, step, get, set]) => el("label", { class: "slide" }, el("span", {}, label),
    el("input", { type: "range", id: `slide-${key}`, min, max, step, value: get(editor.state), oninput: (e) => change(label.toLowerCase(), (s) => set(s, Number(e.target.value)), "soon") }),
    el("output", { for: `slide-${key}` }))));
  refreshWeather();
}

export function refreshWeather() {
  if (!editor.state) return;
  for (const [key, , , , , get, , words] of SLIDERS) {
    const input = byId(`slide-${key}`);
    if (!input) continue;
    const value = get(editor.state);
    if (document.activeElement !== input) input.value = value;
    const text = words(value) || String(value);
    setAttr(input, "aria-valuetext", text);
    setText(input.nextElementSibling, text);
  }
}

// The wind as an arrow, turned as the plan is turned from north.
export function windArrow(north) {
  const { wind_m_s: speed, wind_from_deg: from } = editor.state.outdoors;
  const to = from - north + 180;
  const seen = [speed, to, editor.weather?.wind].join(" ");
  if (byId("wind").dataset.seen === seen) return;
  byId("wind").dataset.seen = seen;
  const arrow = el("span", { class: "wind", "aria-hidden": "true" }, el("span", { class: "needle" }, "↑"), el("span", {}, speed > 0.05 ? `wind ${editor.weather?.wind || ""}` : "calm"));
  arrow.firstChild.style.transform = `rotate(${to}deg)`;
  arrow.firstChild.hidden = speed <= 0.05;
  const compass = el("span", { class: "north" }, el("span", { class: "needle" }, "↑"), "N");
  compass.firstChild.style.transform = `rotate(${-north}deg)`;
  arrow.append(compass);
  setContent(byId("wind"), arrow);
}
