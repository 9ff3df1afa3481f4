// Everything on the plan as tables: for a screen reader, and for anyone who wants all the numbers.

import { el, find, say, show } from "./dom.js";
import { fans, hand, house, select } from "./hand.js";
import { putIn } from "./thing.js";

const pick = (kind, name) => el("button", { class: "link", onclick: () => { select(kind, name); find("thing").scrollIntoView({ block: "nearest" }); } }, name);

export function drawTables() {
  if (!house()) return show(find("tables"));
  show(find("tables"), table("rooms", "Rooms", ["Room", "Outdoor air change rate", "Total exchange", "Pressure"], Object.keys(house().rooms), "room", 3),
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
      say(row.children[i + 1], text);
    });
  }
}

// While something is held the plan and the thing in hand follow at once, the long tables four times a second.
let later = null;
export function refreshTables() {
  if (!hand.dragging) return fillTables();
  later ||= setTimeout(() => { later = null; fillTables(); }, 250);
}

function fillTables() {
  if (!house()) return;
  const answer = hand.answer;
  fillRows("rooms", (name) => {
    const air = answer?.rooms[name];
    return air ? [air.outdoor, air.total, air.pressure] : ["isolated", "–", "–"];
  });
  fillRows("openings", (name) => {
    const air = answer?.openings[name];
    const opening = house().openings[name];
    const way = (hand.state.shares[name] ?? 0) / (opening.full_share || 1);
    const screen = opening.screen ? (hand.state.screened.includes(name) ? ", screen" : ", no screen") : "";
    const fan = fans().find((f) => f.sealed && f.opening === name);
    return [`${fan ? `${fan.fan} sealed in` : way <= 0 ? "shut" : `${Math.round(way * 100)} %`}${screen}`, air?.words || "–", air?.reading || "–"];
  });
}

export function drawFans() {
  const all = Object.keys(house()?.fans || {});
  show(find("fans"), all.length ? el("ul", { class: "plain" }, all.map((name) => {
    return el("li", {}, pick("fan", name), ` ${house().fans[name].flow}, thrust ${house().fans[name].thrust} `, el("span", { class: "quiet", "data-fan": name }), " ", putIn(name));
  })) : el("p", { class: "quiet" }, "No fans yet. Under Draw walls, with nothing selected, add one from the catalogue."));
  refreshFans();
}

export function refreshFans() {
  for (const place of document.querySelectorAll("[data-fan]")) {
    place.parentElement.querySelector(":scope > .small").hidden = fans().some((f) => f.fan === place.dataset.fan);
    const air = hand.answer?.fans.find((f) => f.fan === place.dataset.fan);
    say(place, air ? `drives ${air.driven} through ${air.opening}` : "");
  }
}

export function drawCautions() {
  const found = hand.picture?.cautions || [];
  find("cautions-box").hidden = !found.length;
  const kinds = [...new Set(found.map((c) => c.about))];
  find("cautions-head").textContent = `Cautions: ${kinds.join("; ")}`;
  show(find("cautions"), kinds.map((about) => {
    const same = found.filter((c) => c.about === about);
    return el("div", { class: "caution" }, el("b", {}, about), el("ul", {}, same.map((c) => el("li", {}, c.computed))), same[0].do, el("small", {}, ` (${same[0].source})`));
  }));
}
