// Another scenario beside the current one: its plan, its numbers, and what explains the difference.

import { drawAir, drawStreams } from "./air.js";
import { selectBox, el, field, byId, setContent } from "./dom.js";
import { editor, house } from "./editor.js";
import { bounds } from "./geometry.js";
import { Plan } from "./plan.js";
import { words } from "./selection.js";
import { LatestRequest } from "./server.js";
import { downstream } from "./units.js";

let other = "";
let plan = null;

const comparer = new LatestRequest("compare", draw, (error) => setContent(byId("compared"), el("p", { class: "error" }, error.message)));

// Both plans show the same part of the house.
let main = null;
export const linkTo = (other) => { main = other; main.onlook = (view) => plan?.look(view, false); };
function linked(made) {
  made.onlook = (view) => main.look(view, false);
  made.look(main.view, false);
  return made;
}

export function drawComparison() {
  const names = Object.keys(editor.page?.scenarios || {});
  if (!names.includes(other)) other = "";
  setContent(byId("beside"), field("Beside", selectBox([["", "nothing"], ...names.map((n) => [n, n])], other, (v) => { other = v; refreshComparison(); }, { id: "beside-name-choice" })), el("div", { id: "compared", role: "status" }));
  refreshComparison();
}

export function refreshComparison() {
  byId("beside-figure").hidden = !other;
  byId("plans").classList.toggle("two", Boolean(other));
  byId("first-name").textContent = other ? editor.scenario : "";
  const corners = Object.values(house()?.rooms || {}).flatMap((r) => r.corners);
  const [x1, y1, x2, y2] = corners.length ? bounds(corners) : [0, 0, 1, 1];
  byId("plans").classList.toggle("wide", x2 - x1 > 1.2 * (y2 - y1));
  if (!other) return setContent(byId("compared") || byId("beside"));
  comparer.put({ scenario: editor.scenario, state: editor.state, units: editor.units, tint: editor.tint, other });
}

function draw(answer) {
  if (!other || !byId("compared")) return;
  plan ||= linked(new Plan(byId("beside-plan")));
  const symbols = new Map(Object.entries(answer.second.symbols || {}).map(([name, s]) => [name, { key: name, shapes: s.shapes }]));
  plan.symbolOf = (name) => symbols.get(name);
  byId("beside-name").textContent = other;
  plan.draw(house(), house().storeys[editor.storey], answer.second_state, null);
  plan.svg.querySelectorAll("[tabindex]").forEach((n) => n.removeAttribute("tabindex"));
  drawStreams(plan, answer.second, editor.storey);
  drawAir(plan, answer.second, null);
  const [first, second] = answer.names;
  setContent(byId("compared"),
    el("table", {}, el("caption", {}, "Total air exchange and outdoor air change rate, per hour"),
      el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "Room"), [first, second].flatMap((n) => [el("th", { scope: "col" }, n), el("th", { scope: "col" }, "outdoor")]))),
      el("tbody", {}, answer.rooms.map((r) => el("tr", {}, el("th", { scope: "row" }, r.name), [0, 1].flatMap((i) => [el("td", {}, r.air_change[i]), el("td", {}, r.outdoor[i])]))),
        el("tr", { class: "sum" }, el("th", { scope: "row" }, "from outdoors, whole house"), answer.totals.flatMap((t) => [el("td", { colspan: 2 }, t)])))),
    answer.differences.length > 0 && [el("p", {}, `What explains the difference, each change alone, from ${first}:`),
      el("ul", {}, answer.differences.map((d) => el("li", {}, `${d.change}: `, el("b", {}, d.flow))))]);
}

// Readings typed for openings, compared with the model in the current state. They stay in this browser.

let rows = [];
const store = () => `ventplan readings ${editor.page.place}`;

const checker = new LatestRequest("readings", (answer) => {
  answer.rows.forEach((row, i) => {
    const line = document.querySelectorAll("#reading-rows tr")[numbers()[i]];
    if (!line) return;
    line.children[2].textContent = row.expected;
    line.children[3].textContent = row.verdict;
    line.children[3].dataset.verdict = row.verdict.split(" ")[0];
  });
  byId("reading-sum").textContent = answer.mean === null ? "" : `On average the readings are ${answer.mean} against the model (${answer.count}).`;
}, (refused) => {
  byId("reading-sum").textContent = "";
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
  const unit = editor.units === "us" ? "ft/min" : "m/s";
  setContent(byId("readings"),
    el("p", { class: "quiet" }, `Hold the meter in the stream, ${downstream()} downstream of the middle of what is open. 0 says that the vane stood still.`),
    el("table", { class: "tight" }, el("thead", {}, el("tr", {}, ["Opening", `Reading, ${unit}`, "Model expects", "Verdict"].map((h) => el("th", { scope: "col" }, h)))),
      el("tbody", { id: "reading-rows" }, rows.map(line))),
    el("p", { id: "reading-sum", role: "status" }),
    el("button", { class: "small", onclick: () => { rows = []; keep(); drawReadings(); } }, "Clear readings"));
  refreshReadings();
}

function nextOpening() {
  const open = Object.keys(house().openings).filter((n) => editor.state?.shares[n] > 0 && editor.answer?.openings[n]?.reading_m_s !== null);
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
    el("td", {}, selectBox(Object.keys(house().openings), row.opening, (v) => { row.opening = v; keep(); refreshReadings(); }, { "aria-label": `Opening of reading ${i + 1}` })),
    el("td", {}, el("input", { type: "text", size: 6, value: row.speed, inputmode: "decimal", "aria-label": `Reading ${i + 1}`, onchange: (e) => taken(e.target.value) })),
    el("td", {}), el("td", {}));
}

function keep() {
  localStorage.setItem(store(), JSON.stringify(rows.filter((r) => r.speed !== "")));
}

export function refreshReadings() {
  const filled = rows.filter((r) => r.speed !== "");
  document.querySelectorAll("#reading-rows input").forEach((n) => n.removeAttribute("aria-invalid"));
  if (filled.length) checker.put({ scenario: editor.scenario, state: editor.state, units: editor.units, readings: filled });
}
