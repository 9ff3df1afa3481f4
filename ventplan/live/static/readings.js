// Readings typed in at openings, held against the model in the state in hand. They stay in this browser.

import { choice, el, find, show } from "./dom.js";
import { hand, house } from "./hand.js";
import { downstream } from "./lengths.js";
import { Latest } from "./server.js";
import { words } from "./errors.js";

let rows = [];
const store = () => `ventplan readings ${hand.page.place}`;

const asker = new Latest("readings", (answer) => {
  answer.rows.forEach((row, i) => {
    const line = document.querySelectorAll("#reading-rows tr")[numbers()[i]];
    if (!line) return;
    line.children[2].textContent = row.expected;
    line.children[3].textContent = row.verdict;
    line.children[3].dataset.verdict = row.verdict.split(" ")[0];
  });
  find("reading-sum").textContent = answer.mean === null ? "" : `On average the readings are ${answer.mean} against the model (${answer.count}).`;
}, (refused) => {
  find("reading-sum").textContent = "";
  for (const error of refused.errors || []) {
    const line = document.querySelectorAll("#reading-rows tr")[numbers()[Number(error.key.split(" > ")[1]) - 1]];
    if (line) line.children[3].textContent = words(error);
    line?.querySelector("input")?.setAttribute("aria-invalid", "true");
  }
});

const numbers = () => rows.map((r, i) => (r.speed !== "" ? i : -1)).filter((i) => i >= 0);

export function drawReadings() {
  if (!house()) return;
  try { rows = JSON.parse(localStorage.getItem(store())) || []; } catch { rows = []; }
  rows = rows.filter((r) => r.opening in house().openings);
  if (!rows.length || rows.at(-1).speed !== "") rows.push({ opening: nextOpening(), speed: "" });
  const unit = hand.units === "us" ? "ft/min" : "m/s";
  show(find("readings"),
    el("p", { class: "quiet" }, `Hold the meter in the stream, ${downstream()} downstream of the middle of what is open. 0 says that the vane stood still.`),
    el("table", { class: "tight" }, el("thead", {}, el("tr", {}, ["Opening", `Reading, ${unit}`, "Model expects", "Verdict"].map((h) => el("th", { scope: "col" }, h)))),
      el("tbody", { id: "reading-rows" }, rows.map(line))),
    el("p", { id: "reading-sum", role: "status" }),
    el("button", { class: "small", onclick: () => { rows = []; keep(); drawReadings(); } }, "Clear readings"));
  refreshReadings();
}

function nextOpening() {
  const open = Object.keys(house().openings).filter((n) => hand.state?.shares[n] > 0 && hand.answer?.openings[n]?.reading_m_s !== null);
  return open.find((n) => !rows.some((r) => r.opening === n)) || open[0] || Object.keys(house().openings)[0] || "";
}

function line(row, i) {
  const taken = (speed) => {
    row.speed = speed.trim();
    keep();
    if (i === rows.length - 1 && row.speed !== "") {
      drawReadings();
      document.querySelectorAll("#reading-rows tr")[i + 1]?.querySelector("input").focus();
    } else refreshReadings();
  };
  return el("tr", {},
    el("td", {}, choice(Object.keys(house().openings), row.opening, (v) => { row.opening = v; keep(); refreshReadings(); }, { "aria-label": `Opening of reading ${i + 1}` })),
    el("td", {}, el("input", { type: "text", size: 6, value: row.speed, inputmode: "decimal", "aria-label": `Reading ${i + 1}`, onchange: (e) => taken(e.target.value) })),
    el("td", {}), el("td", {}));
}

function keep() {
  localStorage.setItem(store(), JSON.stringify(rows.filter((r) => r.speed !== "")));
}

export function refreshReadings() {
  const filled = rows.filter((r) => r.speed !== "");
  document.querySelectorAll("#reading-rows input").forEach((n) => n.removeAttribute("aria-invalid"));
  if (filled.length) asker.put({ scenario: hand.scenario, state: hand.state, units: hand.units, readings: filled });
}
