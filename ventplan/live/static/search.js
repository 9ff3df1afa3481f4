// Find a better place: the program's search, with its progress and its reasons; the plan moves the fan there.

import { choice, el, field, find, show } from "./dom.js";
import { change, hand, house, select } from "./hand.js";
import { follow } from "./server.js";

const AIMS = [["house", "air change, worst room"], ["room", "air change, one room"], ["clear", "one room clear soonest"], ["opening", "air through an opening"]];
const wish = { aim: "house", name: "", fan: "" };
let running = null;

export function drawSearch() {
  if (!house() || running) return;
  const names = { house: [], room: Object.keys(house().rooms), clear: Object.keys(house().rooms), opening: Object.keys(house().openings) }[wish.aim];
  if (names.length && !names.includes(wish.name)) [wish.name] = names;
  const fan = hand.selected?.kind === "fan" ? hand.selected.name : wish.fan;
  if (!(fan in house().fans)) wish.fan = "";
  else wish.fan = fan;
  show(find("search"),
    field("Aim", choice(AIMS, wish.aim, (v) => { wish.aim = v; drawSearch(); }, { id: "aim" })),
    names.length > 0 && field(wish.aim === "opening" ? "Opening" : "Room", choice(names, wish.name, (v) => (wish.name = v), { id: "aim-name" })),
    field("Fan", choice([["", "any fan"], ...Object.keys(house().fans).map((n) => [n, n])], wish.fan, (v) => { wish.fan = v; }, { id: "search-fan" })),
    el("button", { id: "search-go", class: "strong", onclick: start }, "Find a better place"));
}

async function start() {
  running = new AbortController();
  const bar = el("progress", { max: 1 });
  const stop = el("button", { onclick: () => running?.abort() }, "Stop");
  const said = el("span", { class: "quiet" }, "looking at every set of openings…");
  show(find("found"), bar, said, stop);
  try {
    const answer = await follow("place", { scenario: hand.scenario, state: hand.state, units: hand.units, ...wish }, (done, total) => {
      bar.max = total;
      bar.value = done;
      said.textContent = ` ${done} of ${total} states `;
    }, running.signal);
    show(find("found"), el("p", {}, `${answer.aim}: ${answer.before} without a fan. ${answer.states} states of the house were solved${answer.exhaustive ? ", every one there is" : ""}.`), answer.plans.map(planCard));
    if (answer.plans.length) use(answer.plans[0]);
  } catch (error) {
    show(find("found"), el("p", { class: error.name === "AbortError" ? "quiet" : "mistake" }, error.name === "AbortError" ? "Stopped." : error.message));
  }
  running = null;
}

function use(plan) {
  change(`place ${plan.title}`, (s) => Object.assign(s, { shares: plan.state.shares, fans: plan.state.fans }));
  const [fan] = plan.state.fans;
  const storey = house().storeys.findIndex((s) => s.openings.includes(fan.opening));
  if (storey >= 0) hand.storey = storey;
  select("fan", fan.fan);
}

function planCard(plan, number) {
  return el("div", { class: "card" }, el("h3", {}, `${number + 1}. ${plan.title}`), el("p", {}, el("b", {}, plan.value), `; ${plan.ratio} of the fan's own flow goes through its opening.`),
    plan.opens.length > 0 && el("p", {}, `Open ${plan.opens.join(", ")}.`), plan.shuts.length > 0 && el("p", {}, `Shut ${plan.shuts.join(", ")}.`),
    plan.good && el("p", {}, `Good from ${plan.good} back; the aim may be off by ${plan.aim_off}.`),
    plan.limits.length > 0 && el("p", {}, "What holds it back now: ", plan.limits.slice(0, 3).join("; "), "."),
    plan.cautions.map((c) => el("p", { class: "caution" }, el("b", {}, c.about), `: ${c.computed}. ${c.do}`)),
    el("button", { class: "small", onclick: () => use(plan) }, "Put it there"));
}
