// The plan of one storey in an SVG element: walls, furniture, openings and fans. Air is in air.js.

import { FLOWS_FROM } from "./air.js";
import { setChildren, setAttr, setText, svgEl } from "./dom.js";
import { add, bounds, clamp, degrees, fanSpot, path } from "./geometry.js";
import { shownLength } from "./units.js";

const LAYERS = ["photo", "ground", "floors", "below", "standing", "good", "streams", "jets", "walls", "openings", "arrows", "marks", "labels", "fans", "handles"];
const TIP = 0.95; // metres from a fan to the handle that turns it
const FLOW_WIDTH = 95; // pixels that a flow takes beside a window
const CLOSEST = 12; // times
const MARGIN = 1.6; // metres around the house, for what is written outside

export class Plan {
  constructor(svg) {
    this.svg = svg;
    this.view = { zoom: 1, centre: null };
    this.symbolOf = () => null;
    this.layers = Object.fromEntries(LAYERS.map((name) => [name, svgEl("g", { class: name })]));
    svg.replaceChildren(...Object.values(this.layers));
    new ResizeObserver(() => this.fit()).observe(svg);
  }

  // Draw everything that follows from the house.
  draw(house, storey, state, selected, wrong = new Set()) {
    Object.assign(this, { house, storey: storey || { rooms: [], passing: [], openings: [], walls: [] }, state });
    this.measure();
    const { floors, walls, below, standing } = this.layers;
    const focus = this.focused();
    floors.replaceChildren(...[...this.storey.passing, ...this.storey.rooms].map((name) => this.floor(name, selected, wrong)));
    below.replaceChildren(...(this.storey.below || []).map((d) => svgEl("path", { class: "below", d }, svgEl("title", {}, "the floor below"))));
    standing.replaceChildren(...Object.entries(house?.obstacles || {}).filter(([, o]) => this.storey.rooms.includes(o.room))
      .map(([name, o]) => this.obstacle(name, o, selected)));
    walls.replaceChildren(...this.storey.walls.map((d) => svgEl("path", { class: "wall", d })));
    this.update(state, selected, wrong);
    this.focusOn(focus);
  }

  // Redrawing must keep the keyboard focus.
  focused() {
    const { dataset } = document.activeElement || {};
    return dataset?.name && this.svg.contains(document.activeElement) ? dataset : null;
  }

  focusOn(thing) {
    if (!thing || this.focused()) return;
    this.svg.querySelector(`[data-kind="${thing.kind}"][data-name="${CSS.escape(thing.name)}"]`)?.focus({ preventScroll: true });
  }

  floor(name, selected, wrong) {
    const room = this.house.rooms[name];
    const chosen = selected?.kind === "room" && selected.name === name;
    return svgEl("path", {
      class: `floor${chosen ? " chosen" : ""}${wrong.has(`room ${name}`) ? " wrong" : ""}`, d: path(room.corners, true),
      "data-kind": "room", "data-name": name, tabindex: 0, role: "button", "aria-label": `${name}, room, ${room.size}`,
    });
  }

  obstacle(name, { corners }, selected) {
    const chosen = selected?.kind === "obstacle" && selected.name === name;
    return svgEl("path", { class: `obstacle${chosen ? " chosen" : ""}`, d: path(corners, true), "data-kind": "obstacle", "data-name": name, tabindex: 0, role: "button", "aria-label": `${name}, furniture` }, svgEl("title", {}, name));
  }

  // Where the selected fan may stand.
  strip(d) {
    this.layers.good.replaceChildren(...(d ? [svgEl("path", { class: "good", d }, svgEl("title", {}, "at least 90 % of the best flow"))] : []));
  }

  // Draw what follows from the state: sashes, screens, fans.
  update(state, selected, wrong = new Set()) {
    this.state = state;
    if (!this.house || !state) return;
    const { openings, fans } = this.layers;
    const focus = this.focused();
    const drawn = new Map([...openings.children, ...fans.children].map((node) => [node.dataset.key, node]));
    setChildren(openings, this.storey.openings.map((name) => this.drawnOpening(name, selected, wrong, drawn)));
    setChildren(fans, state.fans.filter((f) => this.shows(f)).map((f) => this.drawnFan(f, selected, wrong, drawn)));
    this.focusOn(focus);
  }

  shows(fan) {
    const here = this.house.openings[fan.opening];
    return here && (this.storey.openings.includes(fan.opening) || this.storey.rooms.includes(fan.stands_in));
  }

  // An opening that looks the same keeps its element, so that dragging a fan creates none.
  drawnOpening(name, selected, wrong, drawn) {
    const chosen = selected?.kind === "opening" && selected.name === name;
    const symbol = this.symbolOf(name, this.state);
    const key = JSON.stringify([name, this.state.shares[name], this.state.fans.find((f) => f.sealed && f.opening === name)?.fan, this.state.screened.includes(name), chosen, wrong.has(`opening ${name}`), symbol ? symbol.key : "", this.house.openings[name]]);
    const node = drawn.get(key) || this.opening(name, selected, wrong, symbol);
    node.dataset.key = key;
    return node;
  }

  opening(name, selected, wrong, symbol) {
    const opening = this.house.openings[name];
    const share = this.state.shares[name] ?? 0;
    const screened = this.state.screened.includes(name) && opening.screen;
    const chosen = selected?.kind === "opening" && selected.name === name;
    const way = opening.full_share ? share / opening.full_share : 0;
    const fan = this.state.fans.find((f) => f.sealed && f.opening === name);
    const words = `${name}, ${opening.kind}, ${fan ? `${fan.fan} sealed in` : way <= 0 ? "shut" : way > 0.995 ? "open" : `open ${Math.round(way * 100)} %`}${screened ? ", screen on" : ""}`;
    return svgEl("g", {
      class: `opening${chosen ? " chosen" : ""}${wrong.has(`opening ${name}`) ? " wrong" : ""}${opening.can_move ? "" : " fixed"}`,
      "data-kind": "opening", "data-name": name, tabindex: 0, role: "button", "aria-label": words,
    }, (symbol?.shapes || []).map(([kind, d]) => svgEl("path", { class: kind, d })),
    svgEl("path", { class: "hit", d: path([opening.start, opening.end]) }));
  }

  // A fan keeps its element, and so the keyboard focus, wherever it goes.
  drawnFan(fan, selected, wrong, drawn) {
    const { at: [x, y], way } = fanSpot(this.house.openings[fan.opening], this.state.shares[fan.opening] ?? 0, fan);
    const radius = this.house.fans[fan.fan].diameter_m / 2;
    const chosen = selected?.kind === "fan" && selected.name === fan.fan;
    const key = JSON.stringify([fan.fan, radius, chosen, fan.sealed, wrong.has(`fan ${fan.fan}`), this.scale]);
    const node = drawn.get(key) || this.fan(fan, radius, chosen, wrong);
    node.dataset.key = key;
    const where = fan.sealed ? `sealed in ${fan.opening}` : `${fan.stands_in === "outdoors" ? "outdoors" : `in ${fan.stands_in}`}, ${shownLength(fan.setback_m)} from ${fan.opening}`;
    setAttr(node, "transform", `translate(${x.toFixed(4)} ${(-y).toFixed(4)}) rotate(${degrees(Math.atan2(-way[1], way[0])).toFixed(2)})`);
    setAttr(node, "aria-label", `${fan.fan}, ${where}`);
    setText(node.firstChild, `${fan.fan}, ${where}`);
    return node;
  }

  fan(fan, radius, chosen, wrong) {
    return svgEl("g", {
      class: `fan${chosen ? " chosen" : ""}${wrong.has(`fan ${fan.fan}`) ? " wrong" : ""}`,
      "data-kind": "fan", "data-name": fan.fan, tabindex: 0, role: "button",
    }, svgEl("title", {}), this.house.fans[fan.fan].symbol.map(([kind, d]) => svgEl("path", { class: kind, d })),
    svgEl("circle", { class: "hit", r: Math.max(radius, 14 / this.scale) }),
    chosen && !fan.sealed && svgEl("path", { class: "turn-line", d: path([[0, 0], [TIP, 0]]) }),
    chosen && !fan.sealed && svgEl("circle", { class: "turn", "data-turn": fan.fan, cx: TIP, r: 9 / this.scale }));
  }

  // After a new size or zoom, whatever has a fixed size on the screen is drawn again.
  fit() {
    this.measure();
    this.onfit?.();
  }

  // Keep the whole storey in view, or the part that was zoomed to.
  measure() {
    const corners = Object.values(this.house?.rooms || {}).flatMap((r) => r.corners);
    const swings = Object.values(this.house?.openings || {}).filter((o) => !o.flat && o.joins[1] === "outdoors").map((o) => add(o.start, o.normal, o.width_m));
    const box = corners.length ? bounds(corners) : [0, 0, 8, 6];
    const far = corners.length ? bounds(corners.concat(swings)) : box;
    const rect = this.svg.getBoundingClientRect();
    const least = rect.width / (box[2] - box[0] + 2 * MARGIN); // pixels a metre at most
    const aside = least > FLOWS_FROM ? Math.max(MARGIN, FLOW_WIDTH / least) : MARGIN;
    const [x1, y1, x2, y2] = [0, 1, 2, 3].map((i) => {
      const roomy = this.roomy ? Math.max(3, 0.35 * Math.max(box[2] - box[0], box[3] - box[1])) : 0; // space to draw in
      const margin = Math.max(roomy, i % 2 ? MARGIN : aside);
      return i < 2 ? Math.min(box[i] - margin, far[i] - 0.4) : Math.max(box[i] + margin, far[i] + 0.4);
    });
    const { zoom, centre } = this.view;
    this.scale = zoom * (Math.min(rect.width / (x2 - x1), rect.height / (y2 - y1)) || 40);
    const [width, height] = [rect.width / this.scale || x2 - x1, rect.height / this.scale || y2 - y1];
    const [cx, cy] = centre || [(x1 + x2) / 2, (y1 + y2) / 2];
    this.box = [cx - width / 2, -cy - height / 2, width, height];
    this.svg.setAttribute("viewBox", this.box.map((v) => +v.toFixed(4)).join(" "));
    this.svg.style.setProperty("--px", 1 / this.scale);
    if (this.held) this.hold(true);
  }

  get zoom() {
    return this.view.zoom;
  }

  // Zoom with one place of the plan [m] fixed on the screen; 0 shows the whole storey.
  zoomBy(factor, spot) {
    if (!factor) return this.look({ zoom: 1, centre: null });
    const [x, y, w, h] = this.box;
    const centre = [x + w / 2, -(y + h / 2)];
    const fixed = spot || centre;
    const zoom = clamp(this.view.zoom * factor, 0.5, CLOSEST);
    const share = this.view.zoom / zoom;
    return this.look({ zoom, centre: [0, 1].map((i) => fixed[i] + (centre[i] - fixed[i]) * share) });
  }

  panBy(dx, dy) {
    const [x, y, w, h] = this.box;
    this.look({ zoom: this.view.zoom, centre: [x + w / 2 - dx / this.scale, -(y + h / 2) + dy / this.scale] });
  }

  // Another plan beside this one shows the same part.
  look(view, report = true) {
    this.view = view;
    this.fit();
    if (report) this.onlook?.(view);
  }

  // From the screen to the plan. Asking the browser for the transformation costs a layout, so a drag uses the first one.
  hold(yes) {
    this.held = yes ? this.svg.getScreenCTM().inverse() : null;
  }

  onScreen([x, y]) {
    const p = new DOMPoint(x, -y).matrixTransform(this.svg.getScreenCTM());
    return [p.x, p.y];
  }

  point(event) {
    const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.held || this.svg.getScreenCTM().inverse());
    return [p.x, -p.y];
  }
}
