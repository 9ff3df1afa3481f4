// Work is never lost: until it is saved, the text in hand is kept here in the browser, and in the program's memory.

import { el, find, show } from "./dom.js";
import { hand, offerWith, step, tell } from "./hand.js";
import { words } from "./errors.js";

const store = () => `ventplan draft ${hand.page.place}`;
const older = () => `ventplan older draft ${hand.page.place}`;
let looked = false; // nothing is put away before what was kept has been looked at

export function keepDraft() {
  const { page } = hand;
  if (!looked) return;
  try {
    if (page.unsaved && page.undo) localStorage.setItem(store(), JSON.stringify({ text: page.text, on_disk: page.on_disk, time: Date.now() }));
    else if (!page.unsaved) localStorage.removeItem(store());
  } catch {
    notice("full", "This browser keeps no drafts (its storage is full or off): save often.");
  }
}

// On opening the page: unsaved work of last time comes back, unless the file was changed since by something else.
export async function bringBack() {
  const { page } = hand;
  let kept = null;
  try { kept = JSON.parse(localStorage.getItem(older()) || localStorage.getItem(store())); } catch { /* not ours */ }
  looked = true;
  if (!kept || kept.text === page.text || page.undo) return;
  const when = new Date(kept.time).toLocaleString();
  if (kept.on_disk === page.on_disk) {
    await step("draft", { text: kept.text });
    notice("draft", `Your unsaved work of ${when} is back.`, ["Undo that", () => step("back", {})]);
  } else {
    localStorage.setItem(older(), JSON.stringify(kept));
    const settled = () => localStorage.removeItem(older());
    notice("draft", `There is unsaved work of ${when}, and the file was changed since.`,
      ["Bring my work back", () => step("draft", { text: kept.text }).then(settled)], ["Keep the file", settled]);
  }
}

export function notice(id, text, ...actions) {
  find(`notice-${id}`)?.remove();
  if (!text) return;
  const bar = el("div", { class: "notice", id: `notice-${id}` }, el("span", {}, text),
    actions.map(([label, act]) => el("button", { class: "small", onclick: () => { bar.remove(); act(); } }, label)),
    el("button", { class: "small", "aria-label": "Close this notice", onclick: () => bar.remove() }, "×"));
  find("notices").append(bar);
}

// Someone else wrote the file meanwhile: both ways out, explained.
export function settleConflict(error) {
  const dialog = find("ask");
  const button = (label, act, strong) => el("button", { class: strong, onclick: () => { dialog.close(); act(); } }, label);
  show(dialog, el("h2", {}, "The file has newer changes"), el("p", {}, `${error.message}.`), el("p", {}, error.body.choices),
    el("div", { class: "row" }, button("Load the file", () => step("load", {}), "strong"),
      button("Overwrite it", () => step("save", { over: error.body.newer }), "risky"), button("Decide later", () => {})));
  dialog.showModal();
}

// A step that would break another scenario: why, and the repairs that the program found.
offerWith((error, again) => new Promise((resolve) => {
  const dialog = find("ask");
  const choose = (act) => () => { dialog.onclose = null; dialog.close(); resolve(act()); };
  const leave = choose(() => { hand.errors = []; tell("page-parts"); return false; });
  const other = [...new Set(error.errors.map((m) => m.key.split(" > ")[1]))].join(", ");
  show(dialog, el("h2", {}, `This step would break ${other}`), el("ul", {}, error.errors.map((m) => el("li", {}, el("b", {}, m.key), ` ${words(m)}`))),
    el("div", { class: "column" }, Object.entries(error.body.repairs).map(([code, label]) => el("button", { onclick: choose(() => again(code)) }, label)),
      el("button", { class: "strong", onclick: leave }, "Leave everything as it was")));
  dialog.onclose = leave;
  dialog.showModal();
}));

// Scenario, storey and mode are remembered by tab, so that a reload goes on where it was.
export function rememberPlace() {
  const { page, scenario, storey, mode } = hand;
  try { sessionStorage.setItem(`ventplan place ${page.place}`, JSON.stringify({ scenario, storey, mode })); } catch { /* the page works without */ }
}

export function placeBefore() {
  try { return JSON.parse(sessionStorage.getItem(`ventplan place ${hand.page.place}`)) || {}; } catch { return {}; }
}
