// The card of an opening: its flow, pressure and reading, where the pointer is or a finger tapped. It changes nothing;
// a click, a second tap or its button opens or shuts the opening.

import { el, find, show } from "./dom.js";
import { freeMiddle } from "./geometry.js";
import { hand, house, on } from "./hand.js";
import { downstream } from "./lengths.js";

let name = "";
let pinned = false;
let later = null;

const verb = (opening) => ((hand.state.shares[opening] ?? 0) > 0 ? "Shut" : "Open");

function words() {
  const air = hand.answer?.openings[name];
  const opening = house().openings[name];
  const way = Math.round(((hand.state.shares[name] ?? 0) / (opening.full_share || 1)) * 100);
  const screen = opening.screen && (hand.state.screened.includes(name) ? ", screen in place" : ", screen off");
  return [el("b", {}, name), el("span", { class: "quiet" }, `${opening.kind}, ${way <= 0 ? "shut" : way > 99 ? "open" : `open ${way} %`}${screen || ""}`),
    air && el("span", {}, air.words), air && el("span", {}, `${air.pressure} across`),
    air && air.reading_m_s !== null && air.reading !== "–" && el("span", {}, `reading ${air.reading}, ${downstream()} downstream`)];
}

function draw(plan, toggle) {
  const card = find("card");
  if (!name || hand.mode === "walls" || !house()?.openings[name]) { card.hidden = true; return; }
  show(card, el("div", { class: "words" }, words()), pinned && house().openings[name].can_move && el("button", { onclick: () => { toggle(name); } }, verb(name)));
  card.hidden = false;
  card.classList.toggle("pinned", pinned);
  const frame = find("plans").getBoundingClientRect();
  const [x, y] = plan.onScreen(freeMiddle(house().openings[name], 0.5));
  if (matchMedia("(max-width: 60rem)").matches) {
    // A bar across the plan, in the half where the opening is not.
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

// Shown by the pointer after a moment, or at once and to stay by a tap.
export function cards(plan, toggle) {
  const redraw = () => draw(plan, toggle);
  const put = (what, stays) => { name = what; pinned = stays; redraw(); };
  on("answer picture page page-parts select", () => { if (name) redraw(); });
  plan.svg.addEventListener("pointerover", (event) => {
    if (event.pointerType !== "mouse" || pinned) return;
    const thing = event.target.closest("[data-kind=opening]")?.dataset;
    clearTimeout(later);
    if (thing && !hand.dragging && !hand.tool) later = setTimeout(() => put(thing.name, false), 200);
    else if (name) put("", false);
  });
  plan.svg.addEventListener("pointerleave", () => { clearTimeout(later); if (name && !pinned) put("", false); });
  return { tap: (what) => put(what, true), close: () => { clearTimeout(later); if (name) put("", false); }, shown: () => (pinned ? name : "") };
}
