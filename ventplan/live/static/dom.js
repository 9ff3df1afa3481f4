// Elements are made without parsing text as markup, so that a name in a house file can never become markup.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [key, value] of Object.entries(attributes || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else if (key === "value") node.value = value;
    else node.setAttribute(key, value === true ? "" : value);
  }
  for (const child of children.flat(3)) {
    if (child !== null && child !== undefined && child !== false) node.append(child);
  }
  return node;
}

export const el = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);
export const svgEl = (tag, attributes, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);
export const byId = (id) => document.getElementById(id);

export function setContent(place, ...children) {
  place.replaceChildren(...children.flat(3).filter((c) => c !== null && c !== undefined && c !== false));
}

// Writing the same text again costs the browser a new layout: write only what changed.
export function setText(node, text) {
  if (node && node.textContent !== text) node.textContent = text;
}

export function setAttr(node, name, value) {
  if (node.getAttribute(name) !== String(value)) node.setAttribute(name, value);
}

// Children that are removed and put back cost a new layout even if they are the same.
export function setChildren(layer, nodes) {
  if (nodes.length !== layer.children.length || nodes.some((node, i) => node !== layer.children[i])) layer.replaceChildren(...nodes);
}

// Select element whose options are words or [value, word] pairs.
export function selectBox(options, value, onchange, attributes = {}) {
  const items = options.map((o) => (Array.isArray(o) ? o : [o, o]));
  const node = el("select", { ...attributes, onchange: () => onchange(node.value) },
    items.map(([v, word]) => el("option", { value: v, selected: String(v) === String(value) }, word)));
  return node;
}

export function field(label, control) {
  return el("label", { class: "field" }, el("span", {}, label), control);
}

// A text field that hands over what was typed on Enter or when it is left.
export function textInput(value, onchange, attributes = {}) {
  const node = el("input", { type: "text", value, autocomplete: "off", spellcheck: "false", ...attributes });
  node.addEventListener("change", () => onchange(node.value.trim()));
  return node;
}
