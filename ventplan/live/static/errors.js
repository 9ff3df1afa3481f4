// Errors at the thing that caused them: marked on the plan, said beside the field, and listed with their line.

import { el, find, show } from "./dom.js";
import { chooseScenario, hand, select } from "./hand.js";

const all = () => [...hand.errors, ...(hand.page?.errors || [])];

// Which thing a key such as "openings > hall door > along" is about.
export function thingOf(error) {
  const parts = error.key.split(" > ");
  if (["rooms", "openings"].includes(parts[0]) && parts[1]) return { kind: parts[0].slice(0, -1), name: parts[1], field: parts[2] };
  if (parts[0] === "fans" && parts[1]) return { kind: "fan", name: parts[1], field: parts[2] };
  const place = parts.indexOf("fans");
  if (parts[0] === "scenarios" && place > 0) {
    const words = ["first", "second", "third", "fourth"];
    const number = words.includes(parts[place + 1]) ? words.indexOf(parts[place + 1]) : Number((parts[place + 1] || "").replace(/\D/g, "")) - 1;
    const mine = parts[1] === hand.scenario && (hand.tried || hand.state);
    const fan = (mine || hand.page?.scenarios[parts[1]])?.fans[number];
    return { kind: "fan", name: fan?.fan, field: parts[place + 2], scenario: parts[1] };
  }
  if (parts[0] === "scenarios" && ["open", "shut", "screens"].includes(parts[2])) return { kind: "opening", name: parts[3], field: parts[2], scenario: parts[1] };
  if (parts[0] === "temperature") return { kind: "room", name: parts[1], field: "temperature" };
  if (parts[0] === "shares") return { kind: "opening", name: parts[1], field: "way" };
  return { kind: "", name: parts[1] || "", field: parts[2] || "" };
}

export const words = (m) => `${m.found}. Allowed: ${m.allowed}${m.hint ? `. ${m.hint}` : ""}`;
const here = (thing) => !thing.scenario || thing.scenario === hand.scenario;
export const wrongThings = () => new Set(all().map(thingOf).filter(here).map((t) => `${t.kind} ${t.name}`));

export function errorsOf(kind, name) {
  return all().filter((m) => { const t = thingOf(m); return here(t) && t.kind === kind && t.name === name; })
    .map((m) => el("p", { class: "error", role: "alert", id: `error-${thingOf(m).field || "thing"}` }, `${thingOf(m).field || name}: ${words(m)}`));
}

// Attributes of the field that an error is about.
export function noteAt(key) {
  const { kind, name } = hand.selected || {};
  const bad = all().some((m) => { const t = thingOf(m); return here(t) && t.kind === kind && t.name === name && t.field === key; });
  return bad ? { "aria-invalid": "true", "aria-describedby": `error-${key}` } : {};
}

export function listErrors() {
  const place = find("errors");
  const found = all();
  place.hidden = !found.length;
  show(place, el("h2", {}, found.length === 1 ? "One error" : `${found.length} errors`), el("ul", {}, found.map((m) => {
    const thing = thingOf(m);
    const there = thing.kind && thing.name && (hand.page.house?.[`${thing.kind}s`] || {})[thing.name];
    return el("li", {}, there ? el("button", { class: "link", onclick: () => { if (!here(thing)) chooseScenario(thing.scenario); select(thing.kind, thing.name); } }, m.key) : el("b", {}, m.key),
      ` ${words(m)}`, m.line ? el("small", {}, ` (line ${m.line})`) : null);
  })));
}
