// What is in hand: the page as the program last told it, the scenario being changed, what is selected, and the answers.
// The program keeps the house; here is only what is on its way there.

import { ask, Latest, Refused } from "./server.js";

const listeners = {};
export const hand = {
  page: null, scenario: "", state: null, storey: 0, mode: "air", tool: "", selected: null,
  answer: null, picture: null, weather: null, preview: null, moment: null, newLevel: null, tint: localStorage.getItem("ventplan tint") || "air-change", none: "", errors: [], units: "", dragging: false, changes: 0,
};

export const on = (names, call) => names.split(" ").forEach((n) => (listeners[n] ||= []).push(call));

// An error in one part of the page is reported, and the other parts still follow.
export function tell(name, what) {
  for (const call of listeners[name] || []) {
    try { call(what); } catch (error) { reportError(error); }
  }
}

export const house = () => hand.page?.house;
export const fans = () => hand.state?.fans || [];
export const fanOf = (name) => fans().find((f) => f.fan === name);
const copy = (value) => JSON.parse(JSON.stringify(value));
const question = (more) => ({ scenario: hand.scenario, state: hand.state, units: hand.units, tint: hand.tint, symbols: lacking(), ...more });

// How each opening is drawn in each state of it, as the program sent it; until then as it was drawn last.
let drawn = new Map();
const latest = new Map();
const symbolKey = (name, share, screened) => `${name}|${(share || 0).toFixed(3)}|${Boolean(screened)}`;
const keyIn = (name, state) => symbolKey(name, state.shares[name], state.screened.includes(name) && house().openings[name]?.screen);
const lacking = () => (hand.state ? Object.keys(house()?.openings || {}).filter((n) => !drawn.has(keyIn(n, hand.state))) : []);
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
const solver = new Latest("solve", (answer, body) => {
  takeSymbols(answer.symbols);
  hand.weather = answer.weather;
  if (answer.none) return nothing(answer.none);
  hand.answer = answer;
  tell("answer", body.asked);
  clearTimeout(resting);
  resting = setTimeout(() => solver.idle && painter.put(question()), REST_MS);
}, noAnswer);
const painter = new Latest("picture", (answer) => {
  if (!solver.idle) return;
  takeSymbols(answer.symbols);
  hand.weather = answer.weather;
  if (answer.none) return nothing(answer.none);
  hand.answer = hand.picture = answer;
  hand.none = "";
  tell("picture");
}, noAnswer);

export function solve() {
  if (Object.keys(house()?.rooms || {}).length) solver.put(question({ asked: performance.now() }));
  else nothing(hand.mode === "walls" ? "Nothing is drawn yet: choose + Room." : "Nothing is drawn yet: choose Draw walls, then + Room.");
}

function nothing(found) {
  const outer = Object.values(house()?.openings || {}).some((o) => o.joins.includes("outdoors"));
  const words = house() && Object.keys(house().rooms).length && !outer ? "No window or outer door yet." : found;
  Object.assign(hand, { answer: null, picture: null, none: words[0].toUpperCase() + words.slice(1) });
  tell("picture");
  return null;
}

// A state without an answer, such as rooms with no window yet, is said where the answer would stand.
function noAnswer(error) {
  if (error.status === 422 && !error.errors.length) nothing(error.message);
  else if (error instanceof Refused) tell("trouble", error);
}

// The storey that is drawn: one of the house's, or a new one that has no room yet and shows the highest one below it.
export function storeyInHand() {
  const all = house()?.storeys || [];
  if (hand.newLevel === null) return all[hand.storey];
  const top = all.at(-1);
  const below = (top?.rooms || []).map((n) => `M${house().rooms[n].corners.map(([x, y]) => `${x},${-y}`).join("L")}Z`);
  return { title: "New storey", level_m: hand.newLevel, rooms: [], passing: [], openings: [], walls: [], below };
}
export const levelInHand = () => storeyInHand()?.level_m || 0;

export function addStorey() {
  const all = house()?.storeys || [];
  const heights = (all.at(-1)?.rooms || []).map((n) => house().rooms[n].floor_m + house().rooms[n].ceiling_m);
  hand.newLevel = Math.round((Math.max(2.4, ...heights) + 0.3) * 100) / 100;
  hand.selected = null;
  tell("page-parts");
}

export function select(kind, name) {
  hand.selected = kind ? { kind, name } : null;
  tell("select");
}

// See a plan of the search on the page without taking it; null goes back to the scenario in hand. Any change goes back first.
export function preview(plan) {
  if (!hand.page.scenarios[hand.scenario]) return;
  hand.preview = plan;
  hand.state = copy(plan ? plan.state : hand.page.scenarios[hand.scenario]);
  document.body.toggleAttribute("data-preview", Boolean(plan));
  tell("page-parts");
  tell("preview");
  solve();
}

// Put a state into a new scenario, and take that one in hand.
export async function adopt(name, base, state) {
  hand.preview = null;
  document.body.removeAttribute("data-preview");
  const done = await step("adopt", { name, scenario: base, state: copy(state), what: `add scenario ${name}` });
  if (done) chooseScenario(name);
  return done;
}

// Change the state in hand and see what it does; it is kept in the house file's text when the hand lets go.
export function change(what, make, keep = true) {
  if (!hand.state) return;
  tell("leave");
  if (hand.preview) preview(null);
  make(hand.state);
  openForFans(hand.state);
  hand.changes += 1;
  hand.what = what;
  tell("state");
  solve();
  clearTimeout(hand.later);
  if (keep === "soon") hand.later = setTimeout(keepState, 500);
  else if (keep) keepState();
}

// A fan that is not sealed in blows at an open opening, so one that is shut opens with it.
function openForFans(state) {
  for (const { opening: name, sealed } of state.fans) {
    const { can_move: moves, full_share: full } = house().openings[name];
    if (!sealed && moves && !(state.shares[name] > 0)) state.shares[name] = full;
  }
}

let keeping = Promise.resolve();
export function keepState() {
  clearTimeout(hand.later);
  hand.later = null;
  keeping = keeping.then(async () => {
    const seen = hand.changes;
    await step("keep", { state: copy(hand.state), what: hand.what || "change" }, () => hand.changes === seen);
  });
  return keeping;
}

// A figure that was typed goes to the program as text; it says what it makes of it.
export async function keepTyped(what, make) {
  clearTimeout(hand.later); // the state typed into has it
  hand.later = null;
  await keeping;
  const state = copy(hand.state);
  make(state);
  hand.what = what;
  return step("keep", { state, what });
}

// A step that changes the house; the page that comes back is taken over. What is still on its way is kept before.
export async function step(name, body, fresh = () => true) {
  if (name !== "keep") {
    if (hand.later) keepState();
    await keeping;
  }
  tell("leave");
  if (hand.preview) preview(null);
  try {
    hand.tried = body.state || null;
    const page = await ask(name, question({ revision: hand.page?.revision, ...body }));
    hand.errors = [];
    if (name !== "keep") hand.what = { back: "Undone", forward: "Redone", save: "Saved", load: "Loaded" }[name] || body.what || "";
    takePage(page, fresh());
    return true;
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    hand.errors = error.errors;
    if (error.body.other_page) await reload();
    else if (name === "keep" && error.status) takePage(hand.page, true);
    if (error.body.repairs) return offer(error, (repair) => step(name, { ...body, repair }, fresh));
    tell("trouble", error);
    return false;
  }
}

// A step that would break another scenario is done only with a repair that the reader chooses.
let offer = () => false;
export const offerWith = (call) => (offer = call);

export const edit = (what, changes) => step("edit", { what, changes });

export async function reload() {
  takePage(await ask("page", question({ state: null })), true);
}

export function takePage(page, freshState) {
  if (hand.page && page.revision !== hand.page.revision) drawn = new Map();
  const before = hand.page;
  hand.page = page;
  const names = Object.keys(page.scenarios);
  if (!names.includes(hand.scenario)) hand.scenario = names[0] || "";
  hand.preview = null;
  document.body.removeAttribute("data-preview");
  if (freshState || !hand.state) hand.state = page.scenarios[hand.scenario] ? copy(page.scenarios[hand.scenario]) : null;
  hand.answer = known(hand.answer);
  hand.picture = known(hand.picture);
  const storeys = page.house?.storeys.length || 1;
  hand.storey = Math.min(hand.storey, storeys - 1);
  const made = page.house?.storeys.findIndex((s) => hand.newLevel !== null && Math.abs(s.level_m - hand.newLevel) < 0.01) ?? -1;
  if (made >= 0) Object.assign(hand, { storey: made, newLevel: null });
  hand.selected = followed(hand.selected, before);
  tell("page");
  solve();
}

// What is selected stays so under a new name: the only one that came as the old one went.
function followed(selected, before) {
  const namesIn = (page) => Object.keys(page?.house?.[`${selected.kind}s`] || {});
  if (!selected || namesIn(hand.page).includes(selected.name)) return selected;
  const [old, now] = [namesIn(before), namesIn(hand.page)];
  const came = now.filter((n) => !old.includes(n));
  return came.length === 1 && old.length === now.length ? { kind: selected.kind, name: came[0] } : null;
}

// An answer about things that are gone by now is no answer any more.
function known(answer) {
  const plan = house();
  const gone = (part) => Object.keys(answer[part]).some((name) => !plan?.[part][name]);
  return answer && !gone("rooms") && !gone("openings") ? answer : null;
}

// What the colours and numbers of the rooms show.
export function chooseTint(name) {
  hand.tint = name;
  localStorage.setItem("ventplan tint", name);
  solve();
}

export function chooseScenario(name) {
  hand.scenario = name;
  hand.errors = [];
  takePage(hand.page, true);
}
