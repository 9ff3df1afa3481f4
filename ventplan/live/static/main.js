// Start: ask for the page, then redraw each part when the state of the page changes.

import { drawAir, drawStreams, motionWanted, Particles } from "./air.js";
import { drawComparison, drawReadings, linkTo, refreshComparison, refreshReadings } from "./compare.js";
import { goodRangeStrip, refreshCurve } from "./curve.js";
import { askScenario, restoreDraft, storeDraft, notice, storedView, storeView, askConflict } from "./dialogs.js";
import { el, byId, setText, setContent } from "./dom.js";
import { addStorey, change, chooseScenario, chooseTint, edit, fanOf, editor, house, commitState, on, reload, select, solve, step, currentStorey, symbolOf, emit } from "./editor.js";
import { drawFans, refreshFans } from "./fans.js";
import { freeMiddle } from "./geometry.js";
import { listen as listenKeys } from "./keys.js";
import { cards, listen as listenMoves, spotOf, toggle } from "./moves.js";
import { drawOverTime } from "./over_time.js";
import { drawCautions, drawTables, drawWeather, refreshTables, refreshWeather, windArrow } from "./panel.js";
import { drawPhoto, loadPhoto } from "./photo.js";
import { Plan } from "./plan.js";
import { drawSearch } from "./search.js";
import { drawThing, listErrors, refreshThing, thingOf, words, thingsWithErrors } from "./selection.js";
import { ask, takeKey } from "./server.js";
import { cancelSketch, drawGrid, typeLength } from "./sketch.js";
import { drawHandles, walls } from "./walls.js";

const plan = new Plan(byId("plan"));
plan.symbolOf = symbolOf;
linkTo(plan);
const specks = new Particles(byId("specks"), plan);
plan.onfit = () => { if (plan.house) { plan.update(editor.state, editor.selected, thingsWithErrors()); drawAir(plan, editor.answer, editor.selected, editor.moment); drawHandles(plan); } drawGrid(plan); };

function drawAll() {
  plan.roomy = editor.mode === "walls";
  plan.strip(goodRangeStrip());
  plan.draw(house(), currentStorey(), editor.state, editor.selected, thingsWithErrors());
  drawHead();
  listErrors();
  drawThing();
  drawAnswer();
  drawStreams(plan, editor.picture, editor.storey);
  drawHandles(plan);
  drawGrid(plan);
  drawPhoto(plan);
}

function drawHead() {
  const { page } = editor;
  byId("house-name").textContent = house()?.name || page.file;
  document.title = `${house()?.name || page.file} – ventplan`;
  byId("file-state").textContent = page.unsaved ? "not saved" : "saved";
  byId("file-state").title = byId("house-name").title = page.place;
  byId("file-place").textContent = page.place;
  for (const [id, what] of [["undo", page.undo], ["redo", page.redo]]) {
    byId(id).disabled = !what;
    byId(id).title = `${id === "undo" ? "Undo" : "Redo"}${what ? `: ${what}` : ""}`;
  }
  byId("save").disabled = !page.unsaved;
  byId("new-scenario").disabled = !Object.keys(house()?.rooms || {}).length;
  setContent(byId("scenario"), Object.keys(page.scenarios).map((n) => el("option", { value: n, selected: n === editor.scenario }, n)));
  const storeys = house()?.storeys || [];
  setContent(byId("storeys"), (storeys.length > 1 || editor.newLevel !== null) && storeys.map((s, i) => el("button", { "aria-pressed": String(editor.newLevel === null && i === editor.storey), onclick: () => { Object.assign(editor, { storey: i, newLevel: null }); emit("page-parts"); } }, s.title.replace(/^Floor (.*) the ground$/, "$1 ground"))));
  byId("text").textContent = page.text;
}

function drawAnswer() {
  if (!editor.state) return;
  if (Object.keys(editor.answer?.symbols || {}).length) plan.update(editor.state, editor.selected, thingsWithErrors());
  drawAir(plan, editor.answer, editor.selected, editor.moment);
  refreshThing();
  refreshTables();
  refreshFans();
  refreshWeather();
  windArrow(house()?.north_deg || 0);
  drawScale();
  if (editor.selected?.kind === "fan") refreshCurve();
}

// What the colours mean; the same scale as in print.
function drawScale() {
  const tints = editor.moment || editor.answer?.tints;
  const seen = JSON.stringify([tints?.title, tints?.bounds]);
  if (!tints?.bounds || byId("scale").dataset.seen === seen) return;
  byId("scale").dataset.seen = seen;
  setContent(byId("scale"), el("span", {}, tints.title), el("span", { class: "steps" }, [...tints.bounds, ""].map((bound, i) => [el("i", { "data-tint": `${tints.scale}-${i + 1}` }), bound])));
}

// Announce what a step did to screen readers.
function announce(found) {
  if (!editor.what || editor.dragging || !found) return;
  const fan = found.fans.find((f) => f.fan === editor.selected?.name);
  setText(byId("said"), `${editor.what}. ${fan ? `${fan.setback === "sealed in" ? "Sealed in" : `${fan.setback} back`}, drives ${fan.driven}. ` : ""}Outdoor air: ${found.total}.`);
}

// One switch for the screens of the whole house.
function drawScreens() {
  const all = Object.entries(house()?.openings || {}).filter(([, o]) => o.screen).map(([n]) => n);
  const on = all.filter((n) => editor.state?.screened.includes(n));
  byId("screens-field").hidden = !all.length;
  Object.assign(byId("screens"), { checked: on.length === all.length, indeterminate: on.length > 0 && on.length < all.length });
}

on("page", () => {
  for (const old of ["trouble", "held"]) notice(old, "");
  if (editor.page.older) notice("older", "This text cannot be read as a house, so the plan shows the house as it was before. Undo, or mend the file and press Load.", ["Undo", () => step("undo", {})]);
  else notice("older", "");
  drawTables(); // first: drawing the rest fills them in
  drawFans();
  drawAll();
  drawWeather();
  drawSearch();
  drawOverTime();
  drawComparison();
  drawReadings();
  drawScreens();
  storeDraft();
  if (document.body.dataset.ready) storeView();
});
on("page-parts", () => { drawAll(); storeView(); });
on("state", () => {
  drawScreens();
  plan.update(editor.state, editor.selected, thingsWithErrors());
  refreshThing();
});
on("select", () => {
  const { kind, name } = editor.selected || {};
  const shown = house()?.storeys[editor.storey];
  const has = (s) => s && (kind === "room" ? s.rooms.includes(name) : kind === "opening" ? s.openings.includes(name) : true);
  if (kind && shown && !has(shown)) editor.storey = Math.max(0, house().storeys.findIndex(has));
  drawAll();
  drawSearch();
  refreshCurve();
  if (kind && (kind !== "opening" || matchMedia("(max-width: 60rem)").matches)) byId("panel").scrollTop = 0; // the details of what was selected
});
on("answer", (asked) => {
  drawAnswer();
  if (asked) performance.measure("drag to numbers", { start: asked, end: performance.now() });
});
on("picture", () => {
  document.body.dataset.drawn = "yes";
  if (!editor.answer && house()) plan.update(editor.state, editor.selected, thingsWithErrors()); // symbols come without an answer too
  drawAnswer();
  drawStreams(plan, editor.picture, editor.storey);
  drawCautions();
  const found = editor.answer;
  announce(found);
  byId("summary").textContent = found ? `Outdoor air: ${found.total}.${found.isolated_rooms.length ? ` Isolated: ${found.isolated_rooms.join(", ")}.` : ""}` : editor.none;
  if (!editor.dragging) {
    refreshComparison();
    refreshReadings();
    refreshCurve();
  }
});
on("moment", drawAnswer);
on("strip", () => plan.strip(goodRangeStrip()));
on("dropped", () => { refreshCurve(); refreshComparison(); });
on("tool", drawTools);
on("trouble", (error) => {
  document.body.dataset.drawn = "yes";
  if (error.status === 409 && error.body.newer) askConflict(error);
  else if (error.status === 0) notice("gone", `${error.message}. Your work up to here is kept in this browser, what you do from now on is not: start the program again and open its new address.`);
  else notice("trouble", error.errors.length ? error.errors.map((m) => `${thingOf(m).name || m.key}: ${words(m)}`).join(" · ") : error.message);
  if (editor.page) drawAll();
});

// A tool stays active until another one is chosen.
function useTool(name) {
  cancelSketch(plan);
  editor.tool = name;
  drawTools();
}
on("use", useTool);

function drawTools() {
  byId("tools").hidden = editor.mode !== "walls";
  for (const button of document.querySelectorAll("button[data-tool]")) button.setAttribute("aria-pressed", String(editor.tool === button.dataset.tool));
  document.body.dataset.mode = editor.mode;
  document.body.dataset.tool = editor.tool;
}

// The report opens as a page of its own, without the controls, ready to print or to save.
async function printReport() {
  const page = window.open("", "_blank");
  if (page) page.document.body.textContent = "The report is being made…";
  notice("print", "The report is being made…");
  try {
    const { address } = await ask("report", { scenario: editor.scenario, state: editor.state, units: editor.units });
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
  byId("tint").value = editor.tint;
  byId("tint").addEventListener("change", (e) => { chooseTint(e.target.value); refreshComparison(); });
  byId("motion").checked = motionWanted();
  byId("motion").addEventListener("change", (e) => { localStorage.setItem("ventplan motion", e.target.checked ? "on" : "off"); specks.start(); });
  byId("screens").addEventListener("change", (e) => {
    const every = Object.entries(house().openings).filter(([, o]) => o.screen).map(([n]) => n);
    change(`all screens ${e.target.checked ? "in place" : "off"}`, (s) => (s.screened = e.target.checked ? every : []));
  });
  byId("print").addEventListener("click", printReport);
  byId("add-storey").addEventListener("click", addStorey);
  document.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey || e.target.closest("input, select, textarea, dialog")) return;
    if (typeLength(plan, e.key)) e.preventDefault();
    else if (e.key === "Escape" && !cancelSketch(plan) && editor.tool) useTool("");
  });
  byId("skip-fan").addEventListener("click", (e) => {
    e.preventDefault();
    (document.querySelector("#plan .fan") || byId("fans").querySelector("button"))?.focus();
  });
  byId("scenario").addEventListener("change", (e) => chooseScenario(e.target.value));
  addEventListener("pagehide", () => { if (editor.later) commitState(); }); // a slider let go just now
  byId("new-scenario").addEventListener("click", askScenario);
  byId("undo").addEventListener("click", () => step("undo", {}));
  byId("redo").addEventListener("click", () => step("redo", {}));
  byId("save").addEventListener("click", () => step("save", {}));
  byId("load").addEventListener("click", () => step("load", {}));
  byId("zoom-in").addEventListener("click", () => plan.zoomBy(1.5, middleOf(editor.selected)));
  byId("zoom-out").addEventListener("click", () => plan.zoomBy(1 / 1.5));
  byId("zoom-fit").addEventListener("click", () => plan.zoomBy(0));
  for (const button of document.querySelectorAll("button[data-tool]")) {
    button.addEventListener("click", () => useTool(button.dataset.tool));
  }
  for (const radio of document.querySelectorAll("[name=mode]")) {
    radio.addEventListener("change", () => { Object.assign(editor, { mode: radio.value, tool: "" }); storeView(); drawTools(); select(editor.selected?.kind, editor.selected?.name); });
  }
  byId("units").addEventListener("change", async (e) => {
    editor.units = e.target.value;
    localStorage.setItem("ventplan units", editor.units);
    if (Object.keys(house()?.rooms || {}).length || !await edit("show " + editor.units, [{ path: ["show"], set: editor.units }])) await reload();
  });
  byId("look").value = localStorage.getItem("ventplan look") || "";
  const look = () => { document.documentElement.dataset.look = byId("look").value; localStorage.setItem("ventplan look", byId("look").value); };
  byId("look").addEventListener("change", look);
  look();
}

async function start() {
  const scenario = takeKey();
  wire();
  editor.units = localStorage.getItem("ventplan units") || "";
  if (scenario) editor.scenario = scenario;
  try {
    await reload();
  } catch (error) {
    return notice("gone", error.message);
  }
  loadPhoto();
  editor.units = editor.page.units;
  byId("units").value = editor.units;
  const before = storedView();
  editor.storey = before.storey || 0;
  chooseScenario(!scenario && before.scenario in editor.page.scenarios ? before.scenario : editor.scenario);
  if (before.mode === "walls") document.querySelector("[name=mode][value=walls]").click();
  if (!Object.keys(house()?.rooms || {}).length) {
    document.querySelector("[name=mode][value=walls]").click();
  }
  drawTools();
  await restoreDraft();
  document.body.dataset.ready = "yes";
  solve();
}

start();
