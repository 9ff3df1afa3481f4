// Find a better place: the plans of the search as cards. A plan is shown first; using it creates a new scenario, so that
// the current one and those based on it do not change.

import { selectBox, el, field, byId, setContent, textInput } from "./dom.js";
import { adopt, editor, house, on, preview, select } from "./editor.js";
import { askWithProgress } from "./server.js";

const AIMS = [["house", "air where people are"], ["room", "air in one room"], ["clear", "clear one room fast"], ["opening", "air at one opening"]];
const wish = { aim: "house", name: "", fan: "", count: 1 };
let running = false;
let answer = null;

const capital = (text) => text[0].toUpperCase() + text.slice(1);
const scenarioNames = () => Object.keys(editor.page?.scenarios || {});

export function freeScenario(wanted) {
  for (let i = 1; ; i += 1) {
    const name = i === 1 ? wanted : `${wanted} ${i}`;
    if (!scenarioNames().includes(name)) return name;
  }
}

export function drawSearch() {
  if (!house() || running) return;
  const fans = Object.keys(house().fans);
  const names = { house: [], room: Object.keys(house().rooms), clear: Object.keys(house().rooms), opening: Object.keys(house().openings) }[wish.aim];
  if (names.length && !names.includes(wish.name)) [wish.name] = names;
  const fan = editor.selected?.kind === "fan" ? editor.selected.name : wish.fan;
  wish.fan = fans.includes(fan) ? fan : "";
  wish.count = Math.max(1, Math.min(wish.count, fans.length, 3));
  const counts = [1, 2, 3].filter((n) => n <= Math.max(1, fans.length));
  setContent(byId("search"),
    field("Aim", selectBox(AIMS, wish.aim, (v) => { wish.aim = v; drawSearch(); }, { id: "aim" })),
    names.length > 0 && field(wish.aim === "opening" ? "Opening" : "Room", selectBox(names, wish.name, (v) => (wish.name = v), { id: "aim-name" })),
    counts.length > 1 && field("Number of fans", selectBox(counts, wish.count, (v) => { wish.count = Number(v); drawSearch(); }, { id: "search-count" })),
    wish.count === 1 && field("Fan", selectBox([["", "any fan"], ...fans.map((n) => [n, n])], wish.fan, (v) => { wish.fan = v; }, { id: "search-fan" })),
    el("button", { id: "search-go", class: "strong", onclick: start, disabled: !fans.length }, "Find a better place"));
}

// Ask a long question with a progress bar and a Stop button; the answer, or null after showing why there is none.
export async function runWithProgress(place, name, body, progressText, errorLines) {
  const stopper = new AbortController();
  const bar = el("progress", { max: 1, "aria-label": "Progress" });
  const said = el("span", { class: "quiet" }, "Starting…");
  setContent(place, bar, said, " ", el("button", { onclick: () => stopper.abort() }, "Stop"));
  try {
    return await askWithProgress(name, body, (done, total) => {
      Object.assign(bar, { max: total, value: done });
      said.textContent = progressText(done, total);
    }, stopper.signal);
  } catch (error) {
    setContent(place, error.name === "AbortError" ? el("p", { class: "quiet" }, "Stopped.") : errorLines(error));
    return null;
  }
}

async function start() {
  running = true;
  endPreview();
  const from = editor.scenario;
  answer = await runWithProgress(byId("found"), "place", { scenario: from, state: editor.state, units: editor.units, ...wish },
    (done, total) => `${done} of ${total} states`, (error) => el("p", { class: "error" }, error.message));
  running = false;
  if (!answer) return;
  answer.from = from;
  drawFound();
}

function drawFound() {
  setContent(byId("found"), el("p", {}, `${capital(answer.aim)}. Without a fan: ${answer.before}. ${answer.states} states of the house were solved${answer.exhaustive ? ", every one there is" : ""}.`),
    answer.plans.map(card), !answer.plans.length && el("p", { class: "quiet" }, "No place is better than none."));
}

function card(plan, number) {
  const shown = editor.preview === plan;
  const name = textInput(freeScenario(`${answer.from}, plan ${number + 1}`), () => {}, { "aria-label": "Name of the new scenario" });
  return el("div", { class: `card${shown ? " shown" : ""}`, "data-plan": number }, el("h3", {}, `${number + 1}. ${plan.title}`), el("p", {}, el("b", {}, plan.value), ` (${answer.before} without a fan)`),
    el("div", { class: "row" }, el("button", { class: "small", "aria-pressed": String(shown), onclick: () => (shown ? endPreview() : see(plan)) }, shown ? "Back to my scenario" : "Show on the plan"),
      shown && field("Use this as", name), shown && el("button", { class: "small strong", onclick: () => use(plan, name.value.trim()) }, "Use this")),
    plan.opens.length > 0 && el("p", {}, `Open ${plan.opens.join(", ")}.`), plan.shuts.length > 0 && el("p", {}, `Shut ${plan.shuts.join(", ")}.`),
    plan.good.map((words) => el("p", {}, `Good from ${words}.`)),
    plan.limits.length > 0 && el("p", {}, "What would bring more: ", plan.limits.slice(0, 3).join("; "), "."),
    plan.cautions.map((c) => el("p", { class: "caution" }, el("b", {}, capital(c.about)), `: ${c.computed}. ${c.do}`)));
}

function see(plan) {
  const [fan] = plan.state.fans;
  const storey = house().storeys.findIndex((s) => s.openings.includes(fan.opening));
  if (storey >= 0) editor.storey = storey;
  preview(plan);
  drawFound();
  byId("found").querySelector(".shown button")?.focus();
}

function endPreview() {
  if (!editor.preview) return;
  preview(null);
  if (answer) drawFound();
}

async function use(plan, name) {
  const [fan] = plan.state.fans;
  if (await adopt(name || freeScenario("new plan"), answer.from, plan.state)) {
    answer = null;
    setContent(byId("found"), el("p", {}, `${editor.scenario} has this plan now; ${Object.keys(editor.page.scenarios).length - 1} other scenarios are unchanged.`));
    select("fan", fan.fan);
    byId("thing").scrollIntoView(); // the cards above are gone: the fan's fields come into view
  }
}

on("preview", () => { if (answer) drawFound(); });
