// Over time: a plan for tonight and how a room clears of smoke. A slider goes through the moments; the rooms on the plan
// take their colours and figures from the moment it stands at, and windows and fans stand as the plan has them then.

import { choice, el, field, find, show, typed } from "./dom.js";
import { adopt, hand, house, on, preview, tell } from "./hand.js";
import { ask, follow } from "./server.js";
import { freeScenario } from "./search.js";
import { words } from "./mistakes.js";

const FIELDS = [["high", "Forecast high", "31 °C", "88 °F"], ["low", "Forecast low", "17 °C", "62 °F"], ["bedtime", "Bedtime", "22:30", "22:30"], ["waking", "Waking", "7:00", "7:00"], ["quiet", "Loudest at the pillow", "40 dB", "40 dB"]];
const wish = {};
let running = null;
let course = null; // frames with the colours of the rooms, and by part the state of the house
let states = {};
let shown = -1;

export function drawOverTime() {
  if (!Object.keys(house()?.rooms || {}).length || running) return;
  leave();
  const us = hand.units === "us";
  show(find("tonight"), FIELDS.map(([key, label, si, other]) => field(label, typed(wish[key] || "", (v) => (wish[key] = v), { placeholder: us ? other : si, "data-field": key }))),
    el("button", { id: "tonight-go", class: "strong", onclick: planTonight }, "Plan tonight"), el("div", { id: "tonight-found", role: "status" }));
  const rooms = Object.keys(house().rooms);
  if (!rooms.includes(wish.room)) [wish.room] = rooms;
  show(find("smoke"), field("Begins in", choice(rooms, wish.room, (v) => (wish.room = v), { id: "smoke-room" })),
    el("button", { id: "smoke-go", onclick: clearRoom }, "How does it clear?"), el("div", { id: "smoke-found", role: "status" }));
}

const question = (more) => ({ scenario: hand.scenario, state: hand.preview ? hand.page.scenarios[hand.scenario] : hand.state, units: hand.units, ...more });
const trouble = (error) => el("p", { class: error.name === "AbortError" ? "quiet" : "mistake" }, error.name === "AbortError" ? "Stopped." : error.mistakes?.length ? error.mistakes.map((m) => `${m.key.split(" > ").at(-1)}: ${words(m)}`).join(" ") : error.message);

async function planTonight() {
  running = new AbortController();
  const bar = el("progress", { max: 1 });
  show(find("tonight-found"), bar, el("button", { onclick: () => running?.abort() }, "Stop"));
  try {
    const answer = await follow("tonight", question({ ...wish }), (done, total) => { bar.max = total; bar.value = done; }, running.signal);
    running = null;
    states = answer.states;
    show(find("tonight-found"), el("p", {}, el("b", {}, answer.headline)),
      el("ol", { class: "timeline" }, answer.steps.map((s) => el("li", {}, el("b", {}, s.when), el("ul", { class: "plain" }, s.lines.map((t) => el("li", {}, t)))))),
      el("table", {}, el("caption", {}, "Air temperature"), el("thead", {}, el("tr", {}, ["", ...answer.ways].map((h) => el("th", { scope: "col" }, h)))),
        el("tbody", {}, answer.rows.map((r) => el("tr", {}, el("th", { scope: "row" }, r.name), r.cells.map((c) => el("td", {}, c)))))),
      el("p", {}, answer.fan), scrubber(answer.course, "tonight-time"),
      Object.keys(states).map((part) => el("button", { class: "small", onclick: () => use(part) }, `Use the ${part} as a new scenario`)));
  } catch (error) {
    running = null;
    show(find("tonight-found"), trouble(error));
  }
}

async function clearRoom() {
  show(find("smoke-found"), el("p", { class: "quiet" }, "…"));
  try {
    const answer = await ask("clearing", question({ room: wish.room }));
    states = {};
    show(find("smoke-found"), el("table", {}, el("caption", {}, "Below 5 % of the start after"), el("tbody", {}, answer.rows.map((r) => el("tr", {}, el("th", { scope: "row" }, r.name), el("td", {}, r.cells[0]))))),
      scrubber(answer.course, "smoke-time"));
  } catch (error) {
    show(find("smoke-found"), trouble(error));
  }
}

async function use(part) {
  const state = states[part];
  leave();
  await adopt(freeScenario(`tonight, ${part}`), hand.scenario, state);
}

function scrubber(found, id) {
  course = found;
  shown = -1;
  const said = el("output", { for: id, class: "moment" }, "move the slider to see it on the plan");
  return el("div", {}, el("label", { class: "field" }, el("span", {}, "Moment"), el("input", { type: "range", id, min: 0, max: found.frames.length - 1, step: 1, value: 0, oninput: (e) => see(Number(e.target.value), said) })), said,
    el("button", { class: "small", onclick: leave }, "Back to now"));
}

function see(number, said) {
  const frame = course.frames[number];
  const before = shown >= 0 ? course.frames[shown].part : null;
  shown = number;
  hand.moment = { title: `${course.title}, ${frame.label}`, scale: course.scale, bounds: course.bounds, rooms: frame.rooms };
  said.textContent = [frame.label, frame.note].filter(Boolean).join(", ");
  const state = states[frame.part] || (frame.part && shutState());
  if (state && before !== frame.part) preview({ state });
  else tell("moment");
}

const shutState = () => ({ ...hand.page.scenarios[hand.scenario], fans: [], shares: Object.fromEntries(Object.entries(hand.page.scenarios[hand.scenario].shares).map(([n, s]) => [n, house().openings[n]?.joins[1] === "outdoors" && house().openings[n].can_move ? 0 : s])) });

// The moment that the slider shows is left before anything is changed.
export function leave() {
  if (!hand.moment) return;
  hand.moment = null;
  shown = -1;
  if (hand.preview) preview(null);
  tell("moment");
}

on("leave", leave);
