// The keyboard: all that the mouse can do, for the thing on the plan that has the focus.

import { el, byId, setContent } from "./dom.js";
import { change, edit, fanOf, editor, house, commitState, select, step } from "./editor.js";
import { frame } from "./geometry.js";
import { aimedFrom, canStand, click, openWay, setTurn, toggle } from "./moves.js";
import { nudge, removeThing } from "./walls.js";

const LIST = [
  ["Tab", "go from thing to thing on the plan"],
  ["Enter or Space", "open or shut the opening; select the room or fan"],
  ["Arrow keys", "fan: move by 5 cm (Shift: 25 cm), aimed at its opening again; opening: part way; drawing walls: move the room or opening"],
  ["[ and ]", "turn the fan by 5 degrees"],
  ["s", "screen of the opening off or on"],
  [", and .", "setting of the fan lower or higher"],
  ["Delete", "take the fan away; drawing walls: remove the room or opening"],
  ["Escape", "cancel what is being dragged or drawn, put the tool down, select nothing"],
  ["Numbers, Enter", "while a room is drawn: its width, then its depth"],
  ["Ctrl+Z, Ctrl+Shift+Z, Ctrl+S", "undo, redo, save"],
];

export function listen(plan) {
  setContent(byId("keys"), el("dl", {}, LIST.map(([key, what]) => [el("dt", {}, key), el("dd", {}, what)])));
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
    const key = event.key.toLowerCase();
    const typing = event.target.closest("input[type=text], textarea");
    if (key === "s") step("save", {});
    else if (typing) return;
    else if (key === "z" && event.shiftKey) step("redo", {});
    else if (key === "y") step("redo", {});
    else if (key === "z") step("undo", {});
    else return;
    event.preventDefault();
  });
  plan.svg.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const thing = event.target.closest("[data-kind]")?.dataset;
    if (event.key === "Escape") {
      editor.tool = "";
      select(null);
    } else if (!thing || !press(plan, { kind: thing.kind, name: thing.name }, event)) return;
    event.preventDefault();
  });
}

function press(plan, thing, event) {
  const { key } = event;
  const arrow = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[key];
  if (key === "Enter" || key === " ") click(thing);
  else if (key === "Delete" || key === "Backspace") removeThing(thing);
  else if (arrow && editor.mode === "walls") nudge(thing, arrow, event.shiftKey ? 5 : 1);
  else if (thing.kind === "fan") return pressFan(fanOf(thing.name), key, arrow, event.shiftKey);
  else if (thing.kind === "opening") return pressOpening(thing.name, key, arrow);
  else return false;
  return true;
}

function pressFan(fan, key, arrow, far) {
  if (editor.selected?.name !== fan.fan) select("fan", fan.fan);
  if (arrow && !fan.sealed) {
    const { u, n } = frame(house().openings[fan.opening], fan.stands_in);
    const size = far ? 0.25 : 0.05;
    const setback = fan.setback_m - (arrow[0] * n[0] + arrow[1] * n[1]) * size;
    const aside = fan.aside_m + (arrow[0] * u[0] + arrow[1] * u[1]) * size;
    if (canStand(fan, setback, aside)) {
      change(`move ${fan.fan}`, () => Object.assign(fan, { setback_m: +setback.toFixed(3), aside_m: +aside.toFixed(3), turn_deg: aimedFrom(setback, aside) }), "soon");
    }
  } else if (key === "[" || key === "]") setTurn(fan.fan, fan.turn_deg + (key === "]" ? 5 : -5), "soon");
  else if (key === "," || key === ".") {
    const words = house().fans[fan.fan].settings;
    const now = Math.max(words.indexOf(fan.setting), 0);
    const next = words[now + (key === "," ? 1 : -1)];
    if (next !== undefined) change(`${fan.fan} on ${next}`, () => (fan.setting = next), "soon");
  } else return false;
  return true;
}

function pressOpening(name, key, arrow) {
  const opening = house().openings[name];
  if (editor.selected?.name !== name) select("opening", name);
  if (arrow) openWay(name, editor.state.shares[name] / (opening.full_share || 1) + (arrow[0] + arrow[1]) * 0.1, "soon");
  else if (key === "s" && opening.screen) toggleScreen(name);
  else if (key === "o") toggle(name);
  else return false;
  return true;
}

export function toggleScreen(name) {
  const on = editor.state.screened.includes(name);
  change(`screen ${on ? "off" : "on"} at ${name}`, (s) => {
    s.screened = on ? s.screened.filter((n) => n !== name) : [...s.screened, name].sort();
  });
}

export { edit, commitState };
