// The pointer on the plan: dragging fans to where they can stand, opening sashes part way, zoom, pan, clicks, and the card
// of an opening.

import { notice } from "./dialogs.js";
import { el, byId, setContent } from "./dom.js";
import { change, fanOf, fans, editor, house, commitState, on, select, emit } from "./editor.js";
import { add, clamp, degrees, dot, frame, freeMiddle, inside, length, minus, snap, toOutline, toSegment, unit } from "./geometry.js";
import { downstream } from "./units.js";

const CLICK = 6; // pixels that a click may wander
const STEP = 0.05;

// During a drag the moving air is paused, so that the browser has time for the numbers.
function hold(yes) {
  editor.dragging = yes;
  document.body.toggleAttribute("data-holding", yes);
}

export function listen(plan, walls, card) {
  const { svg } = plan;
  let drag = null;
  const fingers = new Map();
  svg.addEventListener("wheel", (event) => {
    event.preventDefault();
    if (!drag) plan.zoomBy(Math.exp(-event.deltaY * (event.ctrlKey ? 0.01 : 0.0016)), plan.point(event));
  }, { passive: false });
  svg.addEventListener("pointerdown", (event) => {
    if (event.button > 0 && event.button !== 1) return;
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    if (fingers.size === 2) {
      if (drag) cancel();
      return;
    }
    if (drag || fingers.size > 2) return;
    plan.hold(true);
    const thing = event.target.closest("[data-kind]");
    const turning = event.target.dataset.turn;
    drag = { id: event.pointerId, touch: event.pointerType !== "mouse", from: [event.clientX, event.clientY], last: [event.clientX, event.clientY], start: plan.point(event), thing: thing?.dataset, turning, moved: false, before: JSON.stringify(editor.state) };
    if (event.button === 0) drag.walls = editor.mode === "walls" && walls.begin(plan, drag, event);
    svg.setPointerCapture(event.pointerId);
  });
  svg.addEventListener("pointermove", (event) => {
    if (fingers.has(event.pointerId) && fingers.size === 2) return pinch(event);
    if (!drag || event.pointerId !== drag.id) {
      if (editor.mode === "walls") walls.hover(plan, event);
      return null;
    }
    if (!drag.moved && Math.hypot(event.clientX - drag.from[0], event.clientY - drag.from[1]) < CLICK) return null;
    const first = !drag.moved;
    drag.moved = true;
    if (first) card.close();
    const point = plan.point(event);
    if (drag.walls) walls.move(plan, drag, point, event);
    else if (drag.turning) turnTo(plan, drag.turning, point);
    else if (drag.thing?.kind === "fan") moveFan(plan, drag, point, first);
    else if (drag.thing?.kind === "opening" && editor.mode === "air") openTo(drag.thing.name, point);
    else {
      plan.panBy(event.clientX - drag.last[0], event.clientY - drag.last[1]);
      plan.hold(true);
    }
    drag.last = [event.clientX, event.clientY];
    return null;
  });
  // Two fingers zoom and pan: the point between them stays between them.
  function pinch(event) {
    const all = () => [...fingers.values()];
    const middle = () => { const [p, q] = all(); return [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2]; };
    const apart = () => { const [p, q] = all(); return Math.hypot(p[0] - q[0], p[1] - q[1]) || 1; };
    const [was, far] = [middle(), apart()];
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    const [now, wide] = [middle(), apart()];
    plan.hold(false);
    plan.zoomBy(wide / far, plan.point({ clientX: was[0], clientY: was[1] }));
    plan.panBy(now[0] - was[0], now[1] - was[1]);
  }
  // Escape or a second finger cancels a drag.
  function cancel() {
    const done = drag;
    drag = null;
    plan.hold(false);
    hold(false);
    if (done.walls) walls.end(plan, done, null, true);
    else if (done.moved && (done.turning || ["fan", "opening"].includes(done.thing?.kind))) change("nothing", (s) => Object.assign(s, JSON.parse(done.before)), false);
  }
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    card.close();
    if (drag) {
      cancel();
      event.stopPropagation();
      event.preventDefault();
    }
  }, { capture: true });
  const end = (event) => {
    const pinched = fingers.size > 1;
    fingers.delete(event.pointerId);
    if (!drag || event.pointerId !== drag.id || pinched) return;
    const done = drag;
    drag = null;
    plan.hold(false);
    hold(false);
    if (done.walls) walls.end(plan, done, plan.point(event), event.type === "pointercancel");
    else if (done.moved && (done.turning || ["fan", "opening"].includes(done.thing?.kind))) {
      commitState();
      emit("dropped");
    } else if (!done.moved && event.type === "pointerup") click(done.thing, done.touch, card);
  };
  svg.addEventListener("pointerup", end);
  svg.addEventListener("pointercancel", end);
}

// A mouse pointer shows the card of an opening before the click; with a finger the first tap shows it.
export function click(thing, touch = false, card = null) {
  if (!thing) {
    card?.close();
    return select(null);
  }
  if (thing.kind === "opening" && editor.mode === "air") {
    if (touch && card.shown() !== thing.name) card.tap(thing.name);
    else {
      if (touch) card.close();
      toggle(thing.name);
    }
  } else card?.close();
  return select(thing.kind, thing.name);
}

export function toggle(name) {
  const opening = house().openings[name];
  if (!opening.can_move) return;
  const open = editor.state.shares[name] > 0;
  if (fanHolding(name, open ? 0 : 1)) return explainHold(name);
  change(`${open ? "shut" : "open"} ${name}`, (s) => (s.shares[name] = open ? 0 : opening.full_share));
}

// Open an opening part way, as a share of how far the sash goes.
export function openWay(name, way, keep) {
  const opening = house().openings[name];
  const held = fanHolding(name, way);
  if (held) explainHold(name);
  if (opening.can_move && !held?.sealed) change(`open ${name} part way`, (s) => (s.shares[name] = clamp(way, held ? 0.05 : 0, 1) * opening.full_share), keep);
}

// The fan that prevents a change of an opening: sealed in, it holds the sash; set back, it needs the opening open.
export const fanHolding = (name, way) => fans().find((f) => f.opening === name && (f.sealed || way <= 0));
export const holdingText = (fan) => (fan.sealed ? `${fan.fan} is sealed in, and air goes through it only: the sash stays.` : `${fan.fan} blows at it: it stays open.`);

// A button that removes the obstacle: its label and what it does.
export function releaseAction(name, fan) {
  const without = (s) => (s.fans = s.fans.filter((f) => f !== fan && f.fan !== fan.fan));
  return fan.sealed ? [`Take ${fan.fan} out`, () => change(`take ${fan.fan} out of ${name}`, without)]
    : [`Take ${fan.fan} away and shut it`, () => change(`shut ${name}`, (s) => { without(s); s.shares[name] = 0; })];
}

function explainHold(name) {
  const fan = fanHolding(name, 0);
  notice("held", `${name}: ${holdingText(fan)}`, releaseAction(name, fan));
}

function openTo(name, point) {
  const opening = house().openings[name];
  hold(true);
  const u = unit(minus(opening.end, opening.start));
  const along = dot(minus(point, opening.start), u) / opening.width_m;
  openWay(name, snap(opening.opens === "end" ? 1 - along : along, 0.05), false);
}

function turnTo(plan, name, point) {
  const fan = fanOf(name);
  const opening = house().openings[fan.opening];
  const { u, n } = frame(opening, fan.stands_in);
  const middle = add(add(freeMiddle(opening, editor.state.shares[fan.opening]), n, -fan.setback_m), u, fan.aside_m);
  const way = minus(point, middle);
  hold(true);
  setTurn(name, degrees(Math.atan2(dot(way, u), dot(way, n))), false);
}

export function setTurn(name, turn, keep) {
  change(`turn ${name}`, () => (fanOf(name).turn_deg = clamp(snap(turn, 1), -80, 80)), keep);
}

function moveFan(plan, drag, point, first) {
  const fan = fanOf(drag.thing.name);
  hold(true);
  if (first) {
    select("fan", fan.fan);
    drag.home = { opening: fan.opening, stands_in: fan.stands_in };
    drag.shares = { ...editor.state.shares };
    drag.grip = minus(plan.point({ clientX: drag.from[0], clientY: drag.from[1] }), spotOf(fan));
  }
  const wanted = minus(point, drag.grip);
  change(`move ${fan.fan}`, (s) => { Object.assign(s.shares, drag.shares); standAt(plan, fan, wanted, drag.home); }, false);
}

export function spotOf(fan) {
  const opening = house().openings[fan.opening];
  const { u, n } = frame(opening, fan.stands_in);
  return add(add(freeMiddle(opening, editor.state.shares[fan.opening]), n, -fan.setback_m), u, fan.aside_m);
}

// Put a fan where it can stand nearest to a point. It keeps its opening in the room where the drag began; in another room
// it blows at the nearest opening.
function standAt(plan, fan, point, home) {
  const place = placeAt(plan, point, fan);
  const target = place === home.stands_in ? home.opening : nearestOpening(place, point, fan.opening);
  if (!target) return;
  if (place !== fan.stands_in || target !== fan.opening) {
    Object.assign(fan, { opening: target, stands_in: place, ...elsewhere(fan) });
    if (place !== home.stands_in) fan.sealed = false;
  }
  if (fan.sealed) return;
  const opening = house().openings[fan.opening];
  const { u, n } = frame(opening, fan.stands_in);
  const away = minus(freeMiddle(opening, editor.state.shares[fan.opening]), point);
  const setback = Math.max(snap(dot(away, n), STEP), 0.1);
  const along = -dot(away, u);
  const aside = Math.abs(along) < 0.12 ? 0 : snap(along, STEP);
  for (const [s, a] of [[setback, aside], [setback, fan.aside_m], [fan.setback_m, aside]]) {
    if (canStand(fan, s, a)) {
      fan.setback_m = +s.toFixed(3);
      fan.aside_m = +a.toFixed(3);
      break;
    }
  }
  fan.turn_deg = aimedFrom(fan.setback_m, fan.aside_m);
}

// The pan that aims a fan at the middle of the free area, in whole degrees.
export const aimedFrom = (setback, aside) => clamp(Math.round(degrees(Math.atan2(-aside, setback))), -80, 80) || 0;

export function canStand(fan, setback, aside) {
  const plan = house();
  const opening = plan.openings[fan.opening];
  const { u, n } = frame(opening, fan.stands_in);
  const spot = add(add(freeMiddle(opening, editor.state.shares[fan.opening]), n, -setback), u, aside);
  const radius = plan.fans[fan.fan].diameter_m / 2;
  if (Object.values(plan.obstacles).some((o) => o.room === fan.stands_in && (inside(spot, o.corners) || toOutline(spot, o.corners) < radius))) return false;
  const room = plan.rooms[fan.stands_in];
  if (!room) return setback >= 0.1;
  return inside(spot, room.corners) && toOutline(spot, room.corners) >= Math.min(radius, setback) - 0.02;
}

// What is reset at another opening: height and tilt, and what the fan stands on unless that can be carried.
export function elsewhere(fan) {
  const carried = !fan.stands_on || fan.stands_on === "floor" || fan.stands_on in house().surfaces;
  return { height_m: null, tilt_deg: 0, ...(carried ? {} : { stands_on: "", support_m: null }) };
}

function placeAt(plan, point, fan) {
  const rooms = house().rooms;
  const here = plan.storey.rooms.find((name) => inside(point, rooms[name].corners));
  if (here) return here;
  const near = Math.min(...plan.storey.rooms.map((name) => toOutline(point, rooms[name].corners)));
  return near > 0.35 ? "outdoors" : fan.stands_in;
}

export function nearestOpening(place, point, besides = "") {
  const all = Object.entries(house().openings).filter(([name, o]) => o.joins.includes(place) && !o.flat && (o.can_move || editor.state.shares[name] > 0) && (place !== "outdoors" || o.joins[1] === "outdoors"));
  const weight = ([name, o]) => toSegment(point, o.start, o.end).distance + (editor.state.shares[name] > 0 ? 0 : 20) + (name === besides ? 0.3 : 0) + (length(o.normal) ? 0 : 99);
  return all.sort((a, b) => weight(a) - weight(b))[0]?.[0];
}

// The card of an opening: its flow, pressure and reading, where the pointer is or a finger tapped. It changes nothing;
// a click, a second tap or its button opens or shuts the opening.


let name = "";
let pinned = false;
let later = null;

const verb = (opening) => ((editor.state.shares[opening] ?? 0) > 0 ? "Shut" : "Open");

function words() {
  const air = editor.answer?.openings[name];
  const opening = house().openings[name];
  const way = Math.round(((editor.state.shares[name] ?? 0) / (opening.full_share || 1)) * 100);
  const screen = opening.screen && (editor.state.screened.includes(name) ? ", screen in place" : ", screen off");
  return [el("b", {}, name), el("span", { class: "quiet" }, `${opening.kind}, ${way <= 0 ? "shut" : way > 99 ? "open" : `open ${way} %`}${screen || ""}`),
    air && el("span", {}, air.words), air && el("span", {}, `${air.pressure} across`),
    air && air.reading_m_s !== null && air.reading !== "–" && el("span", {}, `reading ${air.reading}, ${downstream()} downstream`)];
}

function draw(plan, toggle) {
  const card = byId("card");
  if (!name || editor.mode === "walls" || !house()?.openings[name]) { card.hidden = true; return; }
  setContent(card, el("div", { class: "words" }, words()), pinned && house().openings[name].can_move && el("button", { onclick: () => { toggle(name); } }, verb(name)));
  card.hidden = false;
  card.classList.toggle("pinned", pinned);
  const frame = byId("plans").getBoundingClientRect();
  const [x, y] = plan.onScreen(freeMiddle(house().openings[name], 0.5));
  if (matchMedia("(max-width: 60rem)").matches) {
    // On a phone: a bar across the half of the plan without the opening.
    card.style.left = "";
    card.style.top = y - frame.top > frame.height / 2 ? "2px" : `${frame.height - card.offsetHeight - 2}px`;
    return;
  }
  // Beside the opening, never on it: it may be tapped again.
  const right = x - frame.left + 26;
  const fits = right + card.offsetWidth < frame.width;
  card.style.left = `${fits ? right : Math.max(0, x - frame.left - 26 - card.offsetWidth)}px`;
  card.style.top = `${Math.max(2, Math.min(y - frame.top - card.offsetHeight / 2, frame.height - card.offsetHeight - 4))}px`;
}

// The pointer shows the card after a moment; a tap shows it at once and keeps it.
export function cards(plan, toggle) {
  const redraw = () => draw(plan, toggle);
  const put = (what, stays) => { name = what; pinned = stays; redraw(); };
  on("answer picture page page-parts select", () => { if (name) redraw(); });
  plan.svg.addEventListener("pointerover", (event) => {
    if (event.pointerType !== "mouse" || pinned) return;
    const thing = event.target.closest("[data-kind=opening]")?.dataset;
    clearTimeout(later);
    if (thing && !editor.dragging && !editor.tool) later = setTimeout(() => put(thing.name, false), 200);
    else if (name) put("", false);
  });
  plan.svg.addEventListener("pointerleave", () => { clearTimeout(later); if (name && !pinned) put("", false); });
  return { tap: (what) => put(what, true), close: () => { clearTimeout(later); if (name) put("", false); }, shown: () => (pinned ? name : "") };
}
