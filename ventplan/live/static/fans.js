// The fans of the house: what each one does, and how to add one to the house or to the scenario.

import { byId, el, field, selectBox, setContent, setText } from "./dom.js";
import { change, edit, editor, fans, house, select } from "./editor.js";
import { nearestOpening } from "./moves.js";
import { pick } from "./panel.js";
import { freeName } from "./sketch.js";

export function drawFans() {
  const all = Object.keys(house()?.fans || {});
  setContent(byId("fans"), !all.length && el("p", { class: "quiet" }, "No fans yet."),
    el("ul", { class: "plain" }, all.map((name) => el("li", {}, pick("fan", name), ` ${house().fans[name].flow} `, el("span", { class: "quiet", "data-fan": name }), " ", addFanButton(name)))),
    el("details", { class: "inner" }, el("summary", {}, "Add a fan to the house"), fromCatalogue(), el("p", {}, "Or a fan of your own, from its box or a measurement:"), ownFan()));
  refreshFans();
}

export function refreshFans() {
  for (const place of document.querySelectorAll("[data-fan]")) {
    place.parentElement.querySelector(":scope > .small").hidden = fans().some((f) => f.fan === place.dataset.fan);
    const air = editor.answer?.fans.find((f) => f.fan === place.dataset.fan);
    setText(place, air ? `drives ${air.driven} through ${air.opening}` : "not running");
  }
}

function fromCatalogue() {
  const kinds = editor.page.catalogue.fans;
  const like = selectBox(kinds, kinds[0], () => {});
  const add = () => {
    const name = freeName("fans", like.value);
    edit(`add ${name}`, [{ path: ["fans", name], add: { like: like.value } }]);
  };
  return el("div", { class: "row" }, field("A fan like", like), el("button", { onclick: add }, "Add fan"));
}

function ownFan() {
  const us = editor.units === "us";
  const [name, wide, flow] = [["Name", "my fan"], ["Diameter", us ? "20 in" : "50 cm"], ["Flow", us ? "1500 cfm" : "2500 m3/h"]]
    .map(([label, value]) => [label, el("input", { type: "text", value, size: 9, id: `own-${label.toLowerCase()}` })]);
  const add = () => {
    const called = freeName("fans", name[1].value.trim() || "my fan");
    edit(`add ${called}`, [{ path: ["fans", called], add: { diameter: wide[1].value, flow: flow[1].value } }]);
  };
  return el("div", { class: "row" }, [name, wide, flow].map(([label, node]) => field(label, node)), el("button", { onclick: add }, "Add my fan"));
}

// A fan that does not run yet is placed at an opening of the selected room, or of the first room of the storey.
export function addFanButton(name) {
  const place = () => {
    const plan = house();
    const room = editor.selected?.kind === "room" ? editor.selected.name : plan.storeys[editor.storey].rooms[0];
    const opening = nearestOpening(room, plan.rooms[room].label);
    if (!opening) return;
    change(`place ${name}`, (s) => s.fans.push({ fan: name, opening, stands_in: room, setback_m: 1, height_m: null, aside_m: 0, turn_deg: 0, tilt_deg: 0, sealed: false, setting: "", stands_on: "", support_m: null }));
    select("fan", name);
  };
  return el("button", { class: "small", onclick: place }, "Place it");
}
