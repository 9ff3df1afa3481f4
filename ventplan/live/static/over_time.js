// Over time: a plan for tonight, and how smoke clears. A slider selects a moment; the rooms take their colours and numbers
// from it, and windows and fans are shown as they are then.

import { selectBox, el, field, byId, setContent, textInput } from "./dom.js";
import { adopt, editor, house, on, preview, emit } from "./editor.js";
import { freeScenario, runWithProgress } from "./search.js";
import { words } from "./selection.js";
import { ask } from "./server.js";

const FIELDS = [["high", "Forecast high", "31 °C", "88 °F"], ["low", "Forecast low", "17 °C", "62 °F"], ["bedtime", "Bedtime", "22:30", "22:30"], ["waking", "Waking", "7:00", "7:00"], ["quiet", "Loudest at the pillow", "40 dB", "40 dB"]];
const labelOf = (m) => FIELDS.find(([key]) => m.key === `tonight > ${key}`)?.[1] || (m.line ? `line ${m.line}, ${m.key}` : m.key);
const wish = { weather: "", weather_name: "" };
let running = false;
let part = null; // of the plan for the night, whose state is in view
let found = null; // the plan for tonight, and the revision of the house that it is for

export function drawOverTime() {
  if (!Object.keys(house()?.rooms || {}).length || running) return;
  leave();
  const us = editor.units === "us";
  const typedFields = FIELDS.filter(([key]) => !wish.weather || !["high", "low"].includes(key));
  setContent(byId("tonight"), typedFields.map(([key, label, si, other]) => field(label, textInput(wish[key] || "", (v) => (wish[key] = v), { placeholder: us ? other : si, "data-field": key }))),
    weatherFile(), el("button", { id: "tonight-go", class: "strong", onclick: planTonight }, "Plan tonight"), el("div", { id: "tonight-found", role: "status" }));
  if (found) drawNight();
  const rooms = Object.keys(house().rooms);
  if (!rooms.includes(wish.room)) [wish.room] = rooms;
  setContent(byId("smoke"), field("Begins in", selectBox(rooms, wish.room, (v) => (wish.room = v), { id: "smoke-room" })),
    el("button", { id: "smoke-go", onclick: clearRoom }, "Compute how it clears"), el("div", { id: "smoke-found", role: "status" }));
}

// Hourly weather in place of a high and a low: the browser reads the file, the program its text.
function weatherFile() {
  const take = async (file) => {
    Object.assign(wish, { weather: file ? await file.text() : "", weather_name: file?.name || "" });
    drawOverTime();
  };
  if (wish.weather) return el("p", { class: "row" }, `Weather: ${wish.weather_name} `, el("button", { class: "small", onclick: () => take(null) }, "Use a high and a low instead"));
  return el("details", {}, el("summary", {}, "Hourly weather from a file"), el("p", { class: "quiet" }, "A CSV file with the headings time, temperature and, if known, humidity, wind speed, wind from, sun and rain; it starts in the evening and ends after waking."),
    el("input", { type: "file", accept: ".csv,text/csv", id: "weather-file", "aria-label": "Weather file", onchange: (e) => e.target.files[0] && take(e.target.files[0]) }));
}

const question = (more) => ({ scenario: editor.scenario, state: editor.preview ? editor.page.scenarios[editor.scenario] : editor.state, units: editor.units, ...more });
const errorLines = (error) => el("p", { class: "error" }, error.errors?.length ? error.errors.map((m) => el("div", {}, `${labelOf(m)}: ${m.found === "nothing" ? `type ${m.allowed}` : words(m)}.`)) : error.message);

async function planTonight() {
  leave();
  running = true;
  const answer = await runWithProgress(byId("tonight-found"), "tonight", question({ ...wish }), (done, total) => `${done} of ${total}`, errorLines);
  running = false;
  found = answer && { answer, revision: editor.page.revision };
  if (found) drawNight();
}

function drawNight() {
  const { answer, revision } = found;
  const table = el("table", {}, el("caption", {}, "Air temperature"), el("thead", {}, el("tr", {}, ["Room and time", ...answer.ways].map((h) => el("th", { scope: "col" }, h)))),
    el("tbody", {}, answer.rows.map((r) => el("tr", {}, el("th", { scope: "row" }, r.name), r.cells.map((c) => el("td", {}, c))))));
  setContent(byId("tonight-found"), revision !== editor.page.revision && el("p", { class: "quiet" }, "The house was changed since. Press Plan tonight to plan again."),
    el("p", {}, el("b", {}, answer.headline)),
    el("ol", { class: "timeline" }, answer.steps.map((s) => el("li", {}, el("b", {}, s.when), el("ul", { class: "plain" }, s.lines.map((t) => el("li", {}, t)))))),
    table, el("p", {}, answer.fan), answer.notes.map((note) => el("p", { class: "quiet" }, note)), revision === editor.page.revision && scrubber(answer.course, answer.states, "tonight-time"),
    el("div", { class: "row" }, Object.entries(answer.states).map(([name, state]) => el("button", { class: "small", onclick: () => use(name, state) }, `Use the ${name} as a new scenario`))));
}

async function clearRoom() {
  leave();
  setContent(byId("smoke-found"), el("p", { class: "quiet" }, "Computing…"));
  try {
    const answer = await ask("clearing", question({ room: wish.room }));
    setContent(byId("smoke-found"), el("table", {}, el("caption", {}, "Time until less than 5 % is left"), el("tbody", {}, answer.rows.map((r) => el("tr", {}, el("th", { scope: "row" }, r.name), el("td", {}, r.cells[0]))))),
      scrubber(answer.course, {}, "smoke-time"));
  } catch (error) {
    setContent(byId("smoke-found"), errorLines(error));
  }
}

// The plan stays in view so that its other part can be used too.
async function use(name, state) {
  leave();
  const { scenario } = editor;
  const base = found.base ?? scenario;
  if (!await adopt(freeScenario(`tonight, ${name}`), base, state)) return;
  Object.assign(found, { base, revision: editor.page.revision });
  drawNight();
}

// A course has frames with the colours of the rooms and the name (in `states`) of the part of the plan at that moment.
function scrubber(course, states, id) {
  const said = el("output", { for: id, class: "moment" }, "move the slider to see it on the plan");
  return el("div", {}, el("label", { class: "field" }, el("span", {}, "Moment"), el("input", { type: "range", id, min: 0, max: course.frames.length - 1, step: 1, value: 0, oninput: (e) => see(course, states, course.frames[e.target.value], said) })),
    el("div", { class: "row" }, said, el("button", { class: "small", onclick: leave }, "Back to now")));
}

function see(course, states, frame, said) {
  if (editor.moment?.course !== course) leave();
  editor.moment = { course, title: `${course.title}, ${frame.label}`, scale: course.scale, bounds: course.bounds, rooms: frame.rooms };
  said.textContent = [frame.label, frame.note].filter(Boolean).join(", ");
  const state = states[frame.part] || (frame.part && shutState());
  if (state && part !== frame.part) preview({ state });
  else emit("moment");
  part = frame.part;
}

const shutState = () => ({ ...editor.page.scenarios[editor.scenario], fans: [], shares: Object.fromEntries(Object.entries(editor.page.scenarios[editor.scenario].shares).map(([n, s]) => [n, house().openings[n]?.joins[1] === "outdoors" && house().openings[n].can_move ? 0 : s])) });

// Any change first leaves the moment that the slider shows.
export function leave() {
  if (!editor.moment) return;
  editor.moment = null;
  part = null;
  if (editor.preview) preview(null);
  emit("moment");
}

on("leave", leave);
