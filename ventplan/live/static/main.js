// Start: ask for the page, then let every part follow what is in hand.

import { drawAir, drawStreams } from "./air.js";
import { drawBeside, linkTo, refreshBeside } from "./beside.js";
import { cards } from "./card.js";
import { goodStrip, refreshCurve } from "./curve.js";
import { el, find, say, show } from "./dom.js";
import { bringBack, keepDraft, notice, placeBefore, rememberPlace, settleConflict } from "./draft.js";
import { addStorey, change, chooseScenario, chooseTint, fanOf, hand, house, keepState, on, reload, select, solve, step, storeyInHand, symbolOf, tell } from "./hand.js";
import { listen as listenKeys } from "./keys.js";
import { listErrors, thingOf, words, wrongThings } from "./errors.js";
import { freeMiddle } from "./geometry.js";
import { drawOverTime } from "./over_time.js";
import { drawPhoto, photoBefore } from "./photo.js";
import { cancelSketch, typeLength } from "./sketch.js";
import { drawGrid } from "./snap.js";
import { listen as listenMoves, spotOf, toggle } from "./moves.js";
import { motionWanted, Particles } from "./particles.js";
import { Plan } from "./plan.js";
import { drawReadings, refreshReadings } from "./readings.js";
import { askScenario } from "./scenario.js";
import { drawSearch } from "./search.js";
import { ask, takeKey } from "./server.js";
import { drawCautions, drawFans, drawTables, refreshFans, refreshTables } from "./tables.js";
import { drawThing, refreshThing } from "./thing.js";
import { drawHandles, walls } from "./walls.js";
import { drawWeather, refreshWeather, windArrow } from "./weather.js";

const plan = new Plan(find("plan"));
plan.symbolOf = symbolOf;
linkTo(plan);
const specks = new Particles(find("specks"), plan);
plan.onfit = () => { if (plan.house) { plan.update(hand.state, hand.selected, wrongThings()); drawAir(plan, hand.answer, hand.selected, hand.moment); drawHandles(plan); } drawGrid(plan); };

function drawAll() {
  plan.roomy = hand.mode === "walls";
  plan.strip(goodStrip());
  plan.draw(house(), storeyInHand(), hand.state, hand.selected, wrongThings());
  drawHead();
  listErrors();
  drawThing();
  drawAnswer();
  drawStreams(plan, hand.picture, hand.storey);
  drawHandles(plan);
  drawGrid(plan);
  drawPhoto(plan);
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
  show(find("storeys"), (storeys.length > 1 || hand.newLevel !== null) && storeys.map((s, i) => el("button", { "aria-pressed": String(hand.newLevel === null && i === hand.storey), onclick: () => { Object.assign(hand, { storey: i, newLevel: null }); tell("page-parts"); } }, s.title.replace(/^Floor (.*) the ground$/, "$1"))));
  find("text").textContent = page.text;
}

function drawAnswer() {
  if (!hand.state) return;
  if (Object.keys(hand.answer?.symbols || {}).length) plan.update(hand.state, hand.selected, wrongThings());
  drawAir(plan, hand.answer, hand.selected, hand.moment);
  refreshThing();
  refreshTables();
  refreshFans();
  refreshWeather();
  windArrow(house()?.north_deg || 0);
  drawScale();
  if (hand.selected?.kind === "fan") refreshCurve();
}

// What the colours mean; the same scale as in print.
function drawScale() {
  const tints = hand.moment || hand.answer?.tints;
  const seen = JSON.stringify([tints?.title, tints?.bounds]);
  if (!tints?.bounds || find("scale").dataset.seen === seen) return;
  find("scale").dataset.seen = seen;
  show(find("scale"), el("span", {}, tints.title), el("span", { class: "steps" }, [...tints.bounds, ""].map((bound, i) => [el("i", { "data-tint": `${tints.scale}-${i + 1}` }), bound])));
}

// What a step did, for those who cannot see it.
function announce(found) {
  if (!hand.what || hand.dragging || !found) return;
  const fan = found.fans.find((f) => f.fan === hand.selected?.name);
  say(find("said"), `${hand.what}. ${fan ? `${fan.setback === "sealed in" ? "Sealed in" : `${fan.setback} back`}, drives ${fan.driven}. ` : ""}Outdoor air in all: ${found.total}.`);
}

// One switch for the screens of the whole house.
function drawScreens() {
  const all = Object.entries(house()?.openings || {}).filter(([, o]) => o.screen).map(([n]) => n);
  const on = all.filter((n) => hand.state?.screened.includes(n));
  find("screens-field").hidden = !all.length;
  Object.assign(find("screens"), { checked: on.length === all.length, indeterminate: on.length > 0 && on.length < all.length });
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
  drawOverTime();
  drawBeside();
  drawReadings();
  drawScreens();
  keepDraft();
  if (document.body.dataset.ready) rememberPlace();
});
on("page-parts", () => { drawAll(); rememberPlace(); });
on("state", () => {
  drawScreens();
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
  announce(found);
  find("summary").textContent = found ? `Outdoor air in all: ${found.total}.${found.cut_off.length ? ` Isolated: ${found.cut_off.join(", ")}.` : ""}` : hand.none;
  if (!hand.dragging) {
    refreshBeside();
    refreshReadings();
    refreshCurve();
  }
});
on("moment", drawAnswer);
on("strip", () => plan.strip(goodStrip()));
on("dropped", () => { refreshCurve(); refreshBeside(); });
on("tool", drawTools);
on("trouble", (error) => {
  if (error.status === 409 && error.body.newer) settleConflict(error);
  else if (error.status === 0) notice("gone", `${error.message}. Your work up to here is kept in this browser, what you do from now on is not: start the program again and open its new address.`);
  else notice("trouble", error.errors.length ? error.errors.map((m) => `${thingOf(m).name || m.key}: ${words(m)}`).join(" · ") : error.message);
  if (hand.page) drawAll();
});

// A tool stays in hand until another one is taken.
function useTool(name) {
  cancelSketch(plan);
  hand.tool = name;
  drawTools();
}
on("use", useTool);

function drawTools() {
  find("tools").hidden = hand.mode !== "walls";
  for (const button of document.querySelectorAll("button[data-tool]")) button.setAttribute("aria-pressed", String(hand.tool === button.dataset.tool));
  document.body.dataset.mode = hand.mode;
  document.body.dataset.tool = hand.tool;
}

// The report opens as a page of its own, without the controls, ready to print or to save.
async function printReport() {
  const page = window.open("", "_blank");
  if (page) page.document.body.textContent = "The report is being made…";
  notice("print", "The report is being made…");
  try {
    const { address } = await ask("report", { scenario: hand.scenario, state: hand.state, units: hand.units });
    notice("print", "");
    if (page) page.location = address;
    else notice("print", "The report is ready.", ["Open it", () => window.open(address)]);
  } catch (error) {
    page?.close();
    notice("print", error.message);
  }
}

function middleOf(thing) {
  if (thing?.kind === "room") return house().rooms[thing.name].label;
  if (thing?.kind === "opening") return freeMiddle(house().openings[thing.name], 1);
  return thing && fanOf(thing.name) ? spotOf(fanOf(thing.name)) : null;
}

function wire() {
  listenMoves(plan, walls, cards(plan, toggle));
  listenKeys(plan);
  find("tint").value = hand.tint;
  find("tint").addEventListener("change", (e) => { chooseTint(e.target.value); refreshBeside(); });
  find("motion").checked = motionWanted();
  find("motion").addEventListener("change", (e) => { localStorage.setItem("ventplan motion", e.target.checked ? "on" : "off"); specks.start(); });
  find("screens").addEventListener("change", (e) => {
    const every = Object.entries(house().openings).filter(([, o]) => o.screen).map(([n]) => n);
    change(`all screens ${e.target.checked ? "in place" : "off"}`, (s) => (s.screened = e.target.checked ? every : []));
  });
  find("print").addEventListener("click", printReport);
  find("add-storey").addEventListener("click", addStorey);
  document.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey || e.target.closest("input, select, textarea, dialog")) return;
    if (typeLength(plan, e.key)) e.preventDefault();
    else if (e.key === "Escape" && !cancelSketch(plan) && hand.tool) useTool("");
  });
  find("skip-fan").addEventListener("click", (e) => {
    e.preventDefault();
    (document.querySelector("#plan .fan") || find("fans").querySelector("button"))?.focus();
  });
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
    button.addEventListener("click", () => useTool(button.dataset.tool));
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
  photoBefore();
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
