// The selected thing: its air, and fields for everything about it; and errors at the thing that has them.

import { selectBox, el, field, byId, setContent, textInput } from "./dom.js";
import { change, chooseScenario, edit, fanOf, fans, editor, house, commitTyped, currentLevel, select, emit } from "./editor.js";
import { toggleScreen } from "./keys.js";
import { addFanButton } from "./fans.js";
import { releaseAction, fanHolding, holdingText, openWay, elsewhere } from "./moves.js";
import { photoPanel } from "./photo.js";
import { downstream, fieldLength, rememberTyped, shownLength, shownTemperature, withUnit, writtenLength } from "./units.js";
import { addOpening, removeThing } from "./walls.js";

const INTERIOR = "Nothing selected. Click a room, a window, a door or a fan.";
const DRAW = "Choose + Room and draw a rectangle on the plan: drag, or click two corners; type a length and Enter to set it. Or add a room here:";

export function drawThing() {
  const place = byId("thing");
  const had = place.contains(document.activeElement) ? document.activeElement : null;
  const { kind, name } = editor.selected || {};
  drawn = fieldsKey();
  if (!kind) setContent(place, nothing());
  else {
    setContent(place, el("h2", { tabindex: -1 }, name, " ", el("small", {}, kind === "opening" ? house().openings[name].kind : kind)),
      errorsOf(kind, name), { room, opening, fan, obstacle }[kind](name));
  }
  if (had) (place.querySelector(`[data-field="${had.dataset.field}"]`) || place.firstElementChild).focus();
}

// What decides which fields there are, besides numbers: if it changes they are drawn again.
let drawn = "";
const fieldsKey = () => JSON.stringify([editor.selected, editor.state?.screened, fans().map((f) => [f.fan, f.opening, f.stands_in, f.sealed, f.setting, f.stands_on])]);

// Update only what changes with every answer, so that a field being typed in stays.
export function refreshThing() {
  if (drawn !== fieldsKey()) drawThing();
  const { kind, name } = editor.selected || {};
  const words = byId("thing").querySelector(".air");
  if (kind && words) {
    const next = el("div", {}, [airWords(kind, name)].flat(3).filter(Boolean));
    if (next.textContent !== words.textContent) setContent(words, ...next.childNodes);
  }
  const way = byId("thing").querySelector("[data-field=way]");
  if (way && kind === "opening" && document.activeElement !== way) way.value = wayOf(name) * 100;
  if (kind === "fan" && fanOf(name)) {
    for (const [key, , part, si] of FIGURES) {
      const input = byId("thing").querySelector(`[data-field=${key}]`);
      const text = figureText(fanOf(name)[part], si);
      if (input && input !== document.activeElement && input.value !== text) input.value = text;
    }
  }
}

function nothing() {
  if (editor.mode !== "walls") return el("p", { class: "quiet", tabindex: -1 }, INTERIOR);
  const size = (editor.units === "us" ? ["12 ft", "10 ft"] : ["4 m", "3 m"]).map((value) => el("input", { type: "text", value, size: 8 }));
  const add = el("button", {
    onclick: () => {
      const all = Object.values(house()?.rooms || {}).flatMap((r) => r.corners);
      const x = all.length ? Math.max(...all.map((c) => c[0])) : 0;
      const name = freeRoom();
      const level = currentLevel() ? { floor: `${currentLevel()} m` } : {};
      edit(`add ${name}`, [{ path: ["rooms", name], add: { at: [`${+x.toFixed(3)} m`, "0 m"], size: size.map((s) => withUnit(s.value, "m", "ft")), ...level } }]).then((ok) => ok && select("room", name));
    },
  }, "Add room");
  return [el("p", { class: "quiet", tabindex: -1 }, DRAW), el("div", { class: "row" }, field("Width", size[0]), field("Depth", size[1]), add),
    field("North: compass bearing of the plan's top", textInput(`${+(house()?.north_deg || 0).toFixed(1)}`, (text) => edit("turn north", [{ path: ["north"], set: `${text.replace(/[^\d.,-]/g, "")} deg` }]), { "data-field": "north" })),
    photoPanel(() => emit("page-parts"), (tool) => emit("use", tool))];
}

function obstacle(name) {
  const { written, height_m: high } = house().obstacles[name];
  return [el("p", { class: "quiet" }, `Furniture in ${house().obstacles[name].room}: no fan stands here, and no jet passes below its height.`),
    editor.mode === "walls" && [rename("obstacles", name), input("Height", "height", writtenLength(written.height ?? high), set("obstacles", name, "height", lengthOf)),
      written.size && input("Width, depth", "size", lengths(written.size), (t) => set("obstacles", name, "size")(pair(t))), remove("obstacle", name)]];
}

function freeRoom() {
  for (let i = 1; ; i += 1) if (!house()?.rooms[`room ${i}`]) return `room ${i}`;
}

const set = (section, name, key, what) => (text) => edit(`change ${key} of ${name}`, [{ path: [section, name, ...[key].flat()], set: what ? what(text) : text }]);
const PLACEHOLDERS = { height: "as the opening", sill: "usual", ceiling: "usual", floor: "level with the ground", along: "middle of the wall" };
const lengthOf = (text) => withUnit(text, "m", "ft");
const input = (label, key, value, onchange) => field(label, textInput(value ?? "", (text) => text !== "" && onchange(text), { placeholder: PLACEHOLDERS[key], "data-field": key, ...errorAttributes(key) }));
const rename = (section, name) => input("Name", "name", name, (text) => edit(`rename ${name}`, [{ path: [section, name], rename: text }]).then((ok) => ok && select(section.slice(0, -1), text)));
const remove = (kind, name) => el("button", { class: "risky", onclick: () => removeThing({ kind, name }) }, kind === "fan" ? "Take away" : "Remove");

function airWords(kind, name) {
  const answer = editor.answer;
  if (!answer) return null;
  if (kind === "room") {
    const air = answer.rooms[name];
    if (!air) return el("p", { class: "quiet" }, "Isolated: no open path leads outdoors.");
    return el("p", {}, "Outdoor air change rate ", el("b", {}, air.outdoor), `; total exchange with outdoors and other rooms ${air.total}; ${air.pressure} against outdoors.`);
  }
  if (kind === "opening") {
    const air = answer.openings[name];
    if (!air) return null;
    return [el("p", {}, el("b", {}, air.words), `. Free area ${air.free}, ${air.pressure} across.`),
      wayOf(name) > 0 && (air.reading_m_s === null ? el("p", {}, "No single reading to expect here: a jet passes, or air goes both ways.") : el("p", {}, "Reading to expect: ", el("b", {}, air.reading), `, ${downstream()} downstream of the middle of the free area`)),
      air.driven && el("p", { class: "quiet" }, `Driven by: ${air.driven}.`)];
  }
  const air = answer.fans.find((f) => f.fan === name);
  return air && el("p", {}, `Blows ${air.blades}; drives `, el("b", {}, air.driven), ` through ${air.opening}${air.ratio === "–" ? "" : `, ${air.ratio} of its own flow`}. ${air.setback === "sealed in" ? "Sealed in" : `${air.setback} back`}. ${air.power}, ${air.sound}.`);
}

function room(name) {
  const { written, openings } = house().rooms[name];
  const sites = house().sites.filter((s) => s.joins.includes(name) && s.length_m > 0.5);
  const celsius = editor.state.temperatures_c[name];
  return [
    el("div", { class: "air" }, airWords("room", name)),
    editor.mode === "air" && input("Temperature", "temperature", celsius === undefined ? "" : shownTemperature(celsius), (text) => commitTyped(`temperature of ${name}`, (s) => (s.temperatures_c[name] = withUnit(text, "°C", "°F")))),
    editor.mode === "walls" && [
      rename("rooms", name),
      written.at && input("Corner: right, up", "at", lengths(written.at), (t) => set("rooms", name, "at")(pair(t))),
      written.size && input("Width, depth", "size", lengths(written.size), (t) => set("rooms", name, "size")(pair(t))),
      input("Ceiling", "ceiling", writtenLength(written.ceiling), set("rooms", name, "ceiling", lengthOf)),
      input("Floor above ground", "floor", writtenLength(written.floor), set("rooms", name, "floor", lengthOf)),
      input("Use", "use", written.use, set("rooms", name, "use")),
      input("Appliance with a flame", "flame", written.flame, set("rooms", name, "flame")),
      el("h3", {}, `Walls (${openings} openings)`),
      el("ul", { class: "sites" }, sites.map((s) => el("li", {}, el("span", {}, wallWords(s, name)),
        ["door", "window", "passage"].map((kind) => el("button", { class: "small", onclick: () => addOpening(s, kind) }, `+ ${kind}`))))),
      remove("room", name),
    ],
  ];
}

const lengths = (written) => written.map(writtenLength).join(", ");
const pair = (text) => text.split(/\s*[,;]\s*/).map(lengthOf);

function wallWords(site, name) {
  const other = site.joins.find((j) => j !== name);
  return `${other === "outdoors" ? `outdoors, ${typeof site.wall === "number" ? `edge ${site.wall}` : site.wall}` : `to ${other}`}: ${shownLength(site.length_m)}`;
}

const button = (words, act) => el("button", { class: "small", onclick: act }, words);
const wayOf = (name) => (editor.state.shares[name] ?? 0) / (house().openings[name].full_share || 1);

function opening(name) {
  const o = house().openings[name];
  const { written } = o;
  const screens = ["none", ...editor.page.catalogue.screens];
  const fan = fanHolding(name, 0);
  return [
    el("div", { class: "air" }, airWords("opening", name)),
    fan && el("p", {}, holdingText(fan), " ", button(...releaseAction(name, fan))),
    fan?.sealed ? null : o.can_move ? field("How far open", el("input", { type: "range", min: 0, max: 100, step: 5, value: wayOf(name) * 100, "data-field": "way",
      oninput: (e) => openWay(name, e.target.value / 100, "soon") })) : el("p", { class: "quiet" }, "It stays as it is."),
    o.screen && el("label", { class: "check" }, el("input", { type: "checkbox", checked: editor.state.screened.includes(name), "data-field": "screened", onchange: () => toggleScreen(name) }), `Screen in place (${o.screen})`),
    editor.mode === "walls" && [
      rename("openings", name),
      field("Kind", selectBox(editor.page.catalogue.kinds, o.kind, set("openings", name, "kind"), { "data-field": "kind" })),
      !o.flat && input("Along the wall", "along", writtenLength(written.along), set("openings", name, "along", lengthOf)),
      input(o.flat ? "Width, depth" : "Width, height", "size", written.size && lengths(written.size), (t) => set("openings", name, "size")(pair(t))),
      !o.flat && input("Sill", "sill", writtenLength(written.sill), set("openings", name, "sill", lengthOf)),
      o.kind !== "shaft" && field("Sash", selectBox(editor.page.catalogue.sashes, o.sash, set("openings", name, "sash"), { "data-field": "sash" })),
      o.along_width && o.can_move && field("Opens at its", selectBox([["", "usual side"], ["left", `left, seen from ${o.joins[0]}`], ["right", `right, seen from ${o.joins[0]}`]], written.opens || "",
        (side) => edit(`change opens of ${name}`, [{ path: ["openings", name, "opens"], ...(side ? { set: side } : { remove: true }) }]), { "data-field": "opens" })),
      o.kind !== "shaft" && field("Screen", selectBox(screens, o.screen || "none", set("openings", name, "screen"), { "data-field": "screen" })),
      remove("opening", name),
    ],
  ];
}

const FIGURES = [
  ["setback", "Setback", "setback_m", "m", "ft"], ["aside", "To the side", "aside_m", "m", "ft"], ["height", "Height of axis", "height_m", "m", "ft"],
  ["turn", "Pan", "turn_deg", "deg", "deg"], ["tilt", "Tilt", "tilt_deg", "deg", "deg"],
];

const figureText = (value, unit) => (unit === "deg" ? `${+value.toFixed(1)}°` : fieldLength(value));

// The program reads what was typed; the field keeps showing it as it was typed.
function typeFigure(fan, key, part, text, si, us) {
  const figure = withUnit(text.replace("°", " deg"), si, us);
  if (si === "m") rememberTyped(figure);
  const raised = part === "height_m" ? { stands_on: "", support_m: null } : {};
  return commitTyped(`${key} of ${fan}`, (s) => Object.assign(s.fans.find((f) => f.fan === fan), { [part]: figure, ...raised }));
}

// What the fan stands on decides the height of its axis, unless a height is typed.
function standsOn(name, f) {
  const heights = { floor: 0, ...house().surfaces };
  const others = f.stands_on && !(f.stands_on in heights) ? [f.stands_on] : [];
  const put = (word) => change(`${name} on ${word || "nothing stated"}`, () => Object.assign(f, { stands_on: word, support_m: heights[word] ?? (word ? f.support_m : null), height_m: null }));
  return field("Stands on", selectBox([["", "not stated"], ...Object.keys(heights), ...others], f.stands_on, put, { "data-field": "stands on" }));
}

function fan(name) {
  const f = fanOf(name);
  if (!f) return [el("p", { class: "quiet" }, "It does not run in this scenario."), addFanButton(name)];
  const plan = house();
  const places = Object.keys(plan.openings).filter((o) => !plan.openings[o].flat || plan.fans[name].can_seal);
  const aimAt = (value) => change(`${name} at ${value}`, () => {
    const { joins } = plan.openings[value];
    const side = joins.includes(f.stands_in) ? f.stands_in : joins[0];
    Object.assign(f, { opening: value, stands_in: side, aside_m: 0, turn_deg: 0, setback_m: Math.min(f.setback_m || 1, 1.5), ...elsewhere(f) });
  });
  return [
    el("div", { class: "air" }, airWords("fan", name)),
    field("Blows at", selectBox(places, f.opening, aimAt, { "data-field": "opening" })),
    field("Stands in", selectBox(plan.openings[f.opening].joins, f.stands_in, (v) => change(`${name} in ${v}`, () => Object.assign(f, { stands_in: v, aside_m: 0, turn_deg: 0, ...elsewhere(f) })), { "data-field": "stands in" })),
    plan.fans[name].settings.length > 1 && field("Setting", selectBox(plan.fans[name].settings, f.setting || plan.fans[name].settings[0], (v) => change(`${name} on ${v}`, () => (f.setting = v)), { "data-field": "setting" })),
    plan.fans[name].can_seal && el("label", { class: "check" }, el("input", { type: "checkbox", checked: f.sealed, "data-field": "sealed", onchange: (e) => change(`${e.target.checked ? "seal in" : "set back"} ${name}`, () => Object.assign(f, { sealed: e.target.checked, setback_m: e.target.checked ? 0 : 1 })) }), "Sealed into the opening"),
    !f.sealed && standsOn(name, f),
    !f.sealed && el("div", { class: "pairs" }, FIGURES.map(([key, label, part, si, us]) => input(label, key, figureText(f[part], si), (text) => typeFigure(name, key, part, text, si, us)))),
    remove("fan", name),
  ];
}

// Errors: marked on the plan, explained beside the field, and listed with their line.


const all = () => [...editor.errors, ...(editor.page?.errors || [])];

// Which thing a key such as "openings > hall door > along" is about.
export function thingOf(error) {
  const parts = error.key.split(" > ");
  if (["rooms", "openings"].includes(parts[0]) && parts[1]) return { kind: parts[0].slice(0, -1), name: parts[1], field: parts[2] };
  if (parts[0] === "fans" && parts[1]) return { kind: "fan", name: parts[1], field: parts[2] };
  const place = parts.indexOf("fans");
  if (parts[0] === "scenarios" && place > 0) {
    const words = ["first", "second", "third", "fourth"];
    const number = words.includes(parts[place + 1]) ? words.indexOf(parts[place + 1]) : Number((parts[place + 1] || "").replace(/\D/g, "")) - 1;
    const mine = parts[1] === editor.scenario && (editor.tried || editor.state);
    const fan = (mine || editor.page?.scenarios[parts[1]])?.fans[number];
    return { kind: "fan", name: fan?.fan, field: parts[place + 2], scenario: parts[1] };
  }
  if (parts[0] === "scenarios" && ["open", "shut", "screens"].includes(parts[2])) return { kind: "opening", name: parts[3], field: parts[2], scenario: parts[1] };
  if (parts[0] === "temperature") return { kind: "room", name: parts[1], field: "temperature" };
  if (parts[0] === "shares") return { kind: "opening", name: parts[1], field: "way" };
  return { kind: "", name: parts[1] || "", field: parts[2] || "" };
}

export const words = (m) => `${m.found}. Allowed: ${m.allowed}${m.hint ? `. ${m.hint}` : ""}`;
const here = (thing) => !thing.scenario || thing.scenario === editor.scenario;
export const thingsWithErrors = () => new Set(all().map(thingOf).filter(here).map((t) => `${t.kind} ${t.name}`));

export function errorsOf(kind, name) {
  return all().filter((m) => { const t = thingOf(m); return here(t) && t.kind === kind && t.name === name; })
    .map((m) => el("p", { class: "error", role: "alert", id: `error-${thingOf(m).field || "thing"}` }, `${thingOf(m).field || name}: ${words(m)}`));
}

// Attributes of the field that an error is about.
export function errorAttributes(key) {
  const { kind, name } = editor.selected || {};
  const bad = all().some((m) => { const t = thingOf(m); return here(t) && t.kind === kind && t.name === name && t.field === key; });
  return bad ? { "aria-invalid": "true", "aria-describedby": `error-${key}` } : {};
}

export function listErrors() {
  const place = byId("errors");
  const found = all();
  place.hidden = !found.length;
  setContent(place, el("h2", {}, found.length === 1 ? "One error" : `${found.length} errors`), el("ul", {}, found.map((m) => {
    const thing = thingOf(m);
    const there = thing.kind && thing.name && (editor.page.house?.[`${thing.kind}s`] || {})[thing.name];
    return el("li", {}, there ? el("button", { class: "link", onclick: () => { if (!here(thing)) chooseScenario(thing.scenario); select(thing.kind, thing.name); } }, m.key) : el("b", {}, m.key),
      ` ${words(m)}`, m.line ? el("small", {}, ` (line ${m.line})`) : null);
  })));
}
