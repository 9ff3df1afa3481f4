// Another scenario held beside the one in hand: its plan, its numbers, and what explains the difference.

import { drawAir, drawStreams } from "./air.js";
import { choice, el, field, find, show } from "./dom.js";
import { bounds } from "./geometry.js";
import { hand, house } from "./hand.js";
import { Plan } from "./plan.js";
import { Latest } from "./server.js";

let other = "";
let plan = null;

const asker = new Latest("compare", draw, (error) => show(find("compared"), el("p", { class: "error" }, error.message)));

// Both plans show the same part of the house.
let main = null;
export const linkTo = (other) => { main = other; main.onlook = (view) => plan?.look(view, false); };
function linked(made) {
  made.onlook = (view) => main.look(view, false);
  made.look(main.view, false);
  return made;
}

export function drawBeside() {
  const names = Object.keys(hand.page?.scenarios || {});
  if (!names.includes(other)) other = "";
  show(find("beside"), field("Beside", choice([["", "nothing"], ...names.map((n) => [n, n])], other, (v) => { other = v; refreshBeside(); }, { id: "beside-name-choice" })), el("div", { id: "compared", role: "status" }));
  refreshBeside();
}

export function refreshBeside() {
  find("beside-figure").hidden = !other;
  find("plans").classList.toggle("two", Boolean(other));
  find("first-name").textContent = other ? hand.scenario : "";
  const corners = Object.values(house()?.rooms || {}).flatMap((r) => r.corners);
  const [x1, y1, x2, y2] = corners.length ? bounds(corners) : [0, 0, 1, 1];
  find("plans").classList.toggle("wide", x2 - x1 > 1.2 * (y2 - y1));
  if (!other) return show(find("compared") || find("beside"));
  asker.put({ scenario: hand.scenario, state: hand.state, units: hand.units, tint: hand.tint, other });
}

function draw(answer) {
  if (!other || !find("compared")) return;
  plan ||= linked(new Plan(find("beside-plan")));
  const symbols = new Map(Object.entries(answer.second.symbols || {}).map(([name, s]) => [name, { key: name, shapes: s.shapes }]));
  plan.symbolOf = (name) => symbols.get(name);
  find("beside-name").textContent = other;
  plan.draw(house(), house().storeys[hand.storey], answer.second_state, null);
  plan.svg.querySelectorAll("[tabindex]").forEach((n) => n.removeAttribute("tabindex"));
  drawStreams(plan, answer.second, hand.storey);
  drawAir(plan, answer.second, null);
  const [first, second] = answer.names;
  show(find("compared"),
    el("table", {}, el("caption", {}, "Total air exchange and outdoor air change rate, per hour"),
      el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "Room"), [first, second].flatMap((n) => [el("th", { scope: "col" }, n), el("th", { scope: "col" }, "outdoor")]))),
      el("tbody", {}, answer.rooms.map((r) => el("tr", {}, el("th", { scope: "row" }, r.name), [0, 1].flatMap((i) => [el("td", {}, r.air_change[i]), el("td", {}, r.outdoor[i])]))),
        el("tr", { class: "sum" }, el("th", { scope: "row" }, "from outdoors, whole house"), answer.totals.flatMap((t) => [el("td", { colspan: 2 }, t)])))),
    answer.differences.length > 0 && [el("p", {}, `What explains the difference, each change alone, from ${first}:`),
      el("ul", {}, answer.differences.map((d) => el("li", {}, `${d.change}: `, el("b", {}, d.flow))))]);
}
