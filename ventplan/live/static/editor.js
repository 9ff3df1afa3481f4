// The state of the page: the house as the program last sent it, the current scenario, the selection and the answers.
// The program keeps the house; this module sends it every step.

import { ask, LatestRequest, RequestError } from "./server.js";

const listeners = {};
export const editor = {
  page: null, scenario: "", state: null, storey: 0, mode: "air", tool: "", selected: null,
  answer: null, picture: null, weather: null, preview: null, moment: null, newLevel: null, tint: localStorage.getItem("ventplan tint") || "air-change", none: "", errors: [], units: "", dragging: false, changes: 0,
};

export const on = (names, call) => names.split(" ").forEach((n) => (listeners[n] ||= []).push(call));

// An error in one part of the page is reported, and the other parts still follow.
export function emit(name, what) {
  for (const call of listeners[name] || []) {
    try { call(what); } catch (error) { reportError(error); }
  }
}

export const house = () => editor.page?.house;
export const fans = () => editor.state?.fans || [];
export const fanOf = (name) => fans().find((f) => f.fan === name);
const copy = (value) => JSON.parse(JSON.stringify(value));
const question = (more) => ({ scenario: editor.scenario, state: editor.state, units: editor.units, tint: editor.tint, symbols: missingSymbols(), ...more });

// How each opening is drawn in each of its states, as the program sent it; until then as it was drawn last.
let drawn = new Map();
const latest = new Map();
const symbolKey = (name, share, screened) => `${name}|${(share || 0).toFixed(3)}|${Boolean(screened)}`;
const keyIn = (name, state) => symbolKey(name, state.shares[name], state.screened.includes(name) && house().openings[name]?.screen);
const missingSymbols = () => (editor.state ? Object.keys(house()?.openings || {}).filter((n) => !drawn.has(keyIn(n, editor.state))) : []);
export function symbolOf(name, state) {
  const found = drawn.get(keyIn(name, state));
  if (found) latest.set(name, found);
  return found || latest.get(name);
}

export function takeSymbols(symbols, into = drawn) {
  for (const [name, { share, screened, shapes }] of Object.entries(symbols || {})) {
    const key = symbolKey(name, share, screened);
    into.set(key, { key, shapes });
  }
  return into;
}

const REST_MS = 70; // the longer drawing waits until the numbers have caught up
let resting = null;
const solver = new LatestRequest("solve", (answer, body) => {
  takeSymbols(answer.symbols);
  editor.weather = answer.weather;
  if (answer.none) return nothing(answer.none);
  editor.answer = answer;
  emit("answer", body.asked);
  clearTimeout(resting);
  resting = setTimeout(() => solver.idle && painter.put(question()), REST_MS);
}, noAnswer);
const painter = new LatestRequest("picture", (answer) => {
  if (!solver.idle) return;
  takeSymbols(answer.symbols);
  editor.weather = answer.weather;
  if (answer.none) return nothing(answer.none);
  editor.answer = editor.picture = answer;
  editor.none = "";
  emit("picture");
}, noAnswer);

export function solve() {
  if (Object.keys(house()?.rooms || {}).length) solver.put(question({ asked: performance.now() }));
  else nothing(editor.mode === "walls" ? "Nothing is drawn yet: choose + Room." : "Nothing is drawn yet: choose Draw walls, then + Room.");
}

function nothing(found) {
  const outer = Object.values(house()?.openings || {}).some((o) => o.joins.includes("outdoors"));
  const words = house() && Object.keys(house().rooms).length && !outer ? "No window or outer door yet." : found;
  Object.assign(editor, { answer: null, picture: null, none: words[0].toUpperCase() + words.slice(1) });
  emit("picture");
  return null;
}

// A state without an answer, such as rooms without a window, is explained in place of the answer.
function noAnswer(error) {
  if (error.status === 422 && !error.errors.length) nothing(error.message);
  else if (error instanceof RequestError) emit("trouble", error);
}

// The storey that is drawn: one of the house, or a new one without rooms over a faint outline of the highest one.
export function currentStorey() {
  const all = house()?.storeys || [];
  if (editor.newLevel === null) return all[editor.storey];
  const top = all.at(-1);
  const below = (top?.rooms || []).map((n) => `M${house().rooms[n].corners.map(([x, y]) => `${x},${-y}`).join("L")}Z`);
  return { title: "New storey", level_m: editor.newLevel, rooms: [], passing: [], openings: [], walls: [], below };
}
export const currentLevel = () => currentStorey()?.level_m || 0;

export function addStorey() {
  const all = house()?.storeys || [];
  const heights = (all.at(-1)?.rooms || []).map((n) => house().rooms[n].floor_m + house().rooms[n].ceiling_m);
  editor.newLevel = Math.round((Math.max(2.4, ...heights) + 0.3) * 100) / 100;
  editor.selected = null;
  emit("page-parts");
}

export function select(kind, name) {
  editor.selected = kind ? { kind, name } : null;
  emit("select");
}

// Show a plan of the search without using it; null goes back to the current scenario, and so does any change.
export function preview(plan) {
  if (!editor.page.scenarios[editor.scenario]) return;
  editor.preview = plan;
  editor.state = copy(plan ? plan.state : editor.page.scenarios[editor.scenario]);
  document.body.toggleAttribute("data-preview", Boolean(plan));
  emit("page-parts");
  emit("preview");
  solve();
}

// Put a state into a new scenario, and choose that one.
export async function adopt(name, base, state) {
  editor.preview = null;
  document.body.removeAttribute("data-preview");
  const done = await step("adopt", { name, scenario: base, state: copy(state), what: `add scenario ${name}` });
  if (done) chooseScenario(name);
  return done;
}

// Change the current state and solve it. It is written into the text of the house file at once (true), after a pause
// ("soon"), or when a drag ends (false).
export function change(what, make, keep = true) {
  if (!editor.state) return;
  emit("leave");
  if (editor.preview) preview(null);
  make(editor.state);
  openForFans(editor.state);
  editor.changes += 1;
  editor.what = what;
  emit("state");
  solve();
  clearTimeout(editor.later);
  if (keep === "soon") editor.later = setTimeout(commitState, 500);
  else if (keep) commitState();
}

// A fan that is not sealed in needs an open opening, so a shut one is opened with it.
function openForFans(state) {
  for (const { opening: name, sealed } of state.fans) {
    const { can_move: moves, full_share: full } = house().openings[name];
    if (!sealed && moves && !(state.shares[name] > 0)) state.shares[name] = full;
  }
}

let keeping = Promise.resolve();
export function commitState() {
  clearTimeout(editor.later);
  editor.later = null;
  keeping = keeping.then(async () => {
    const seen = editor.changes;
    await step("keep", { state: copy(editor.state), what: editor.what || "change" }, () => editor.changes === seen);
  });
  return keeping;
}

// A value that was typed goes to the program as text, which reads or refuses it.
export async function commitTyped(what, make) {
  clearTimeout(editor.later); // the state typed into has it
  editor.later = null;
  await keeping;
  const state = copy(editor.state);
  make(state);
  editor.what = what;
  return step("keep", { state, what });
}

// A step that changes the house; the answer is the page after it. Changes that wait to be written go first.
export async function step(name, body, fresh = () => true) {
  if (name !== "keep") {
    if (editor.later) commitState();
    await keeping;
  }
  emit("leave");
  if (editor.preview) preview(null);
  try {
    editor.tried = body.state || null;
    const page = await ask(name, question({ revision: editor.page?.revision, ...body }));
    editor.errors = [];
    if (name !== "keep") editor.what = { undo: "Undone", redo: "Redone", save: "Saved", load: "Loaded" }[name] || body.what || "";
    setPage(page, fresh());
    return true;
  } catch (error) {
    if (!(error instanceof RequestError)) throw error;
    editor.errors = error.errors;
    if (error.body.other_page) await reload();
    else if (name === "keep" && error.status) setPage(editor.page, true);
    if (error.body.repairs) return offer(error, (repair) => step(name, { ...body, repair }, fresh));
    emit("trouble", error);
    return false;
  }
}

// A step that would break another scenario is done only with a repair that the reader chooses.
let offer = () => false;
export const setRepairDialog = (call) => (offer = call);

export const edit = (what, changes) => step("edit", { what, changes });

export async function reload() {
  setPage(await ask("page", question({ state: null })), true);
}

export function setPage(page, freshState) {
  if (editor.page && page.revision !== editor.page.revision) drawn = new Map();
  const before = editor.page;
  editor.page = page;
  const names = Object.keys(page.scenarios);
  if (!names.includes(editor.scenario)) editor.scenario = names[0] || "";
  editor.preview = null;
  document.body.removeAttribute("data-preview");
  if (freshState || !editor.state) editor.state = page.scenarios[editor.scenario] ? copy(page.scenarios[editor.scenario]) : null;
  editor.answer = known(editor.answer);
  editor.picture = known(editor.picture);
  const storeys = page.house?.storeys.length || 1;
  editor.storey = Math.min(editor.storey, storeys - 1);
  const made = page.house?.storeys.findIndex((s) => editor.newLevel !== null && Math.abs(s.level_m - editor.newLevel) < 0.01) ?? -1;
  if (made >= 0) Object.assign(editor, { storey: made, newLevel: null });
  editor.selected = followed(editor.selected, before);
  emit("page");
  solve();
}

// A renamed thing stays selected: it is the only new name where one old name went.
function followed(selected, before) {
  const namesIn = (page) => Object.keys(page?.house?.[`${selected.kind}s`] || {});
  if (!selected || namesIn(editor.page).includes(selected.name)) return selected;
  const [old, now] = [namesIn(before), namesIn(editor.page)];
  const came = now.filter((n) => !old.includes(n));
  return came.length === 1 && old.length === now.length ? { kind: selected.kind, name: came[0] } : null;
}

// An answer about things that no longer exist is dropped.
function known(answer) {
  const plan = house();
  const gone = (part) => Object.keys(answer[part]).some((name) => !plan?.[part][name]);
  return answer && !gone("rooms") && !gone("openings") ? answer : null;
}

// What the colours and numbers of the rooms show.
export function chooseTint(name) {
  editor.tint = name;
  localStorage.setItem("ventplan tint", name);
  solve();
}

export function chooseScenario(name) {
  editor.scenario = name;
  editor.errors = [];
  setPage(editor.page, true);
}
