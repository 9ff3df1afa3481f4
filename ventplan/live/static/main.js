// Start: ask for the page, then let every part follow what is in hand.

import { drawAir, drawStreams } from "./air.js";
import { drawBeside, refreshBeside } from "./beside.js";
import { refreshCurve } from "./curve.js";
import { el, find, show } from "./dom.js";
import { bringBack, keepDraft, notice, placeBefore, rememberPlace, settleConflict } from "./draft.js";
import { chooseScenario, fanOf, hand, house, keepState, on, reload, select, solve, step, tell } from "./hand.js";
import { listen as listenKeys } from "./keys.js";
import { listMistakes, thingOf, words, wrongThings } from "./mistakes.js";
import { freeMiddle } from "./geometry.js";
import { listen as listenMoves, spotOf } from "./moves.js";
import { Plan } from "./plan.js";
import { drawReadings, refreshReadings } from "./readings.js";
import { askScenario } from "./scenario.js";
import { drawSearch } from "./search.js";
import { takeKey } from "./server.js";
import { drawCautions, drawFans, drawTables, refreshFans, refreshTables } from "./tables.js";
import { drawThing, refreshThing } from "./thing.js";
import { drawHandles, walls } from "./walls.js";
import { drawWeather, refreshWeather, windArrow } from "./weather.js";

const plan = new Plan(find("plan"));
plan.onfit = () => { if (plan.house) { plan.update(hand.state, hand.selected, wrongThings()); drawAir(plan, hand.answer, hand.selected); drawHandles(plan); } };

function drawAll() {
  plan.draw(house(), hand.storey, hand.state, hand.selected, wrongThings());
  drawHead();
  listMistakes();
  drawThing();
  drawAnswer();
  drawStreams(plan, hand.picture, hand.storey);
  drawHandles(plan);
}

function drawHead() {
  const { page } = hand;
  find("house-name").textContent = house()?.name || page.file;
  document.title = `${house()?.name || page.file} – ventplan`;
  find("file-state").textContent = page.unsaved ? `${page.file}, not saved` : page.file;
  find("file-place").textContent = page.place;
  for (const [id, what] of [["back", page.undo], ["forward", page.redo]]) {
    find(id).disabled = !what;
    find(id).title = `${id === "back" ? "Undo" : "Redo"}${what ? `: ${what}` : ""}`;
  }
  find("save").disabled = !page.unsaved;
  find("new-scenario").disabled = !Object.keys(house()?.rooms || {}).length;
  show(find("scenario"), Object.keys(page.scenarios).map((n) => el("option", { value: n, selected: n === hand.scenario }, n)));
  const storeys = house()?.storeys || [];
  show(find("storeys"), storeys.length > 1 && storeys.map((s, i) => el("button", { "aria-pressed": String(i === hand.storey), onclick: () => { hand.storey = i; tell("page-parts"); } }, s.title.replace(/^Floor (.*) the ground$/, "$1"))));
  find("text").textContent = page.text;
}

function drawAnswer() {
  if (!hand.state) return;
  drawAir(plan, hand.answer, hand.selected);
  refreshThing();
  refreshTables();
  refreshFans();
  refreshWeather();
  windArrow(house()?.north_deg || 0);
  if (hand.selected?.kind === "fan") refreshCurve();
}

on("page", () => {
  for (const old of ["trouble", "held"]) notice(old, "");
  if (hand.page.older) notice("older", "This text cannot be read as a house, so the plan shows the house as it was before. Undo, or mend the file and press Load.", ["Undo", () => step("back", {})]);
  else notice("older", "");
  drawTables(); // first: drawing the rest fills them in
  drawFans();
  drawAll();
  drawWeather();
  drawSearch();
  drawBeside();
  drawReadings();
  keepDraft();
  if (document.body.dataset.ready) rememberPlace();
});
on("page-parts", () => { drawAll(); rememberPlace(); });
on("state", () => {
  plan.update(hand.state, hand.selected, wrongThings());
  refreshThing();
});
on("select", () => {
  const { kind, name } = hand.selected || {};
  const shown = house()?.storeys[hand.storey];
  const has = (s) => s && (kind === "room" ? s.rooms.includes(name) : kind === "opening" ? s.openings.includes(name) : true);
  if (kind && shown && !has(shown)) hand.storey = Math.max(0, house().storeys.findIndex(has));
  drawAll();
  drawSearch();
  refreshCurve();
});
on("answer", (asked) => {
  drawAnswer();
  if (asked) performance.measure("drag to numbers", { start: asked, end: performance.now() });
});
on("picture", () => {
  drawAnswer();
  drawStreams(plan, hand.picture, hand.storey);
  drawCautions();
  const found = hand.answer;
  find("summary").textContent = found ? `Outdoor air in all: ${found.total}.${found.cut_off.length ? ` Cut off: ${found.cut_off.join(", ")}.` : ""}` : hand.none;
  if (!hand.dragging) {
    refreshBeside();
    refreshReadings();
    refreshCurve();
  }
});
on("dropped", () => { refreshCurve(); refreshBeside(); });
on("tool", drawTools);
on("trouble", (error) => {
  if (error.status === 409 && error.body.newer) settleConflict(error);
  else if (error.status === 0) notice("gone", `${error.message}. Your work up to here is kept in this browser, what you do from now on is not: start the program again and open its new address.`);
  else notice("trouble", error.mistakes.length ? error.mistakes.map((m) => `${thingOf(m).name || m.key}: ${words(m)}`).join(" · ") : error.message);
  if (hand.page) drawAll();
});

function drawTools() {
  find("tools").hidden = hand.mode !== "walls";
  for (const button of document.querySelectorAll("button[data-tool]")) button.setAttribute("aria-pressed", String(hand.tool === button.dataset.tool));
  document.body.dataset.mode = hand.mode;
  document.body.dataset.tool = hand.tool;
}

function middleOf(thing) {
  if (thing?.kind === "room") return house().rooms[thing.name].label;
  if (thing?.kind === "opening") return freeMiddle(house().openings[thing.name], 1);
  return thing && fanOf(thing.name) ? spotOf(fanOf(thing.name)) : null;
}

function wire() {
  listenMoves(plan, walls);
  listenKeys(plan);
  find("scenario").addEventListener("change", (e) => chooseScenario(e.target.value));
  addEventListener("pagehide", () => { if (hand.later) keepState(); }); // a slider let go just now
  find("new-scenario").addEventListener("click", askScenario);
  find("back").addEventListener("click", () => step("back", {}));
  find("forward").addEventListener("click", () => step("forward", {}));
  find("save").addEventListener("click", () => step("save", {}));
  find("load").addEventListener("click", () => step("load", {}));
  find("zoom-in").addEventListener("click", () => plan.zoomBy(1.5, middleOf(hand.selected)));
  find("zoom-out").addEventListener("click", () => plan.zoomBy(1 / 1.5));
  find("zoom-fit").addEventListener("click", () => plan.zoomBy(0));
  for (const button of document.querySelectorAll("button[data-tool]")) {
    button.addEventListener("click", () => { hand.tool = hand.tool === button.dataset.tool ? "" : button.dataset.tool; drawTools(); });
  }
  for (const radio of document.querySelectorAll("[name=mode]")) {
    radio.addEventListener("change", () => { Object.assign(hand, { mode: radio.value, tool: "" }); rememberPlace(); drawTools(); select(hand.selected?.kind, hand.selected?.name); });
  }
  find("units").addEventListener("change", async (e) => {
    hand.units = e.target.value;
    localStorage.setItem("ventplan units", hand.units);
    await reload();
  });
  find("look").value = localStorage.getItem("ventplan look") || "";
  const look = () => { document.documentElement.dataset.look = find("look").value; localStorage.setItem("ventplan look", find("look").value); };
  find("look").addEventListener("change", look);
  look();
}

async function start() {
  const scenario = takeKey();
  wire();
  hand.units = localStorage.getItem("ventplan units") || "";
  if (scenario) hand.scenario = scenario;
  try {
    await reload();
  } catch (error) {
    return notice("gone", error.message);
  }
  hand.units = hand.page.units;
  find("units").value = hand.units;
  const before = placeBefore();
  hand.storey = before.storey || 0;
  chooseScenario(!scenario && before.scenario in hand.page.scenarios ? before.scenario : hand.scenario);
  if (before.mode === "walls") document.querySelector("[name=mode][value=walls]").click();
  if (!Object.keys(house()?.rooms || {}).length) {
    document.querySelector("[name=mode][value=walls]").click();
  }
  drawTools();
  await bringBack();
  document.body.dataset.ready = "yes";
  solve();
}

start();
