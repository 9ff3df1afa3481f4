// Notices, dialogs, and unsaved work: until it is saved, the current text is kept in the browser and in the program.

import { el, field, byId, setContent } from "./dom.js";
import { chooseScenario, edit, editor, setRepairDialog, step, emit } from "./editor.js";
import { words } from "./selection.js";

const store = () => `ventplan draft ${editor.page.place}`;
const older = () => `ventplan older draft ${editor.page.place}`;
let looked = false; // nothing is put away before what was kept has been looked at

export function storeDraft() {
  const { page } = editor;
  if (!looked) return;
  try {
    if (page.unsaved && page.undo) localStorage.setItem(store(), JSON.stringify({ text: page.text, on_disk: page.on_disk, time: Date.now() }));
    else if (!page.unsaved) localStorage.removeItem(store());
  } catch {
    notice("full", "This browser keeps no drafts (its storage is full or off): save often.");
  }
}

// When the page opens, unsaved work comes back, unless another program has changed the file since.
export async function restoreDraft() {
  const { page } = editor;
  let kept = null;
  try { kept = JSON.parse(localStorage.getItem(older()) || localStorage.getItem(store())); } catch { /* not ours */ }
  looked = true;
  if (!kept || kept.text === page.text || page.undo) return;
  const when = new Date(kept.time).toLocaleString();
  if (kept.on_disk === page.on_disk) {
    await step("draft", { text: kept.text });
    notice("draft", `Your unsaved work of ${when} is back.`, ["Undo that", () => step("undo", {})]);
  } else {
    localStorage.setItem(older(), JSON.stringify(kept));
    const settled = () => localStorage.removeItem(older());
    notice("draft", `There is unsaved work of ${when}, and the file was changed since.`,
      ["Bring my work back", () => step("draft", { text: kept.text }).then(settled)], ["Keep the file", settled]);
  }
}

export function notice(id, text, ...actions) {
  byId(`notice-${id}`)?.remove();
  if (!text) return;
  const bar = el("div", { class: "notice", id: `notice-${id}` }, el("span", {}, text),
    actions.map(([label, act]) => el("button", { class: "small", onclick: () => { bar.remove(); act(); } }, label)),
    el("button", { class: "small", "aria-label": "Close this notice", onclick: () => bar.remove() }, "×"));
  byId("notices").append(bar);
}

// Another program wrote the file meanwhile: load it or overwrite it.
export function askConflict(error) {
  const dialog = byId("ask");
  const button = (label, act, strong) => el("button", { class: strong, onclick: () => { dialog.close(); act(); } }, label);
  setContent(dialog, el("h2", {}, "The file has newer changes"), el("p", {}, `${error.message}.`), el("p", {}, error.body.choices),
    el("div", { class: "row" }, button("Load the file", () => step("load", {}), "strong"),
      button("Overwrite it", () => step("save", { over: error.body.newer }), "risky"), button("Decide later", () => {})));
  dialog.showModal();
}

// A step that would break another scenario: why, and the repairs that the program found.
setRepairDialog((error, again) => new Promise((resolve) => {
  const dialog = byId("ask");
  const choose = (act) => () => { dialog.onclose = null; dialog.close(); resolve(act()); };
  const leave = choose(() => { editor.errors = []; emit("page-parts"); return false; });
  const other = [...new Set(error.errors.map((m) => m.key.split(" > ")[1]))].join(", ");
  setContent(dialog, el("h2", {}, `This step would break ${other}`), el("ul", {}, error.errors.map((m) => el("li", {}, el("b", {}, m.key), ` ${words(m)}`))),
    el("div", { class: "column" }, Object.entries(error.body.repairs).map(([code, label]) => el("button", { onclick: choose(() => again(code)) }, label)),
      el("button", { class: "strong", onclick: leave }, "Leave everything as it was")));
  dialog.onclose = leave;
  dialog.showModal();
}));

// Each tab remembers scenario, storey and mode, so that a reload keeps the view.
export function storeView() {
  const { page, scenario, storey, mode } = editor;
  try { sessionStorage.setItem(`ventplan place ${page.place}`, JSON.stringify({ scenario, storey, mode })); } catch { /* the page works without */ }
}

export function storedView() {
  try { return JSON.parse(sessionStorage.getItem(`ventplan place ${editor.page.place}`)) || {}; } catch { return {}; }
}

// A new scenario that begins as a copy of the current one.


export function askScenario() {
  const dialog = byId("ask");
  const name = el("input", { type: "text", value: `${editor.scenario}, changed`, id: "scenario-name", autocomplete: "off" });
  const add = async () => {
    dialog.close();
    const called = name.value.trim();
    if (called && await edit(`add scenario ${called}`, [{ path: ["scenarios", called], add: { "based on": editor.scenario } }])) chooseScenario(called);
  };
  name.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault(); // or it would press the button that the keyboard goes back to
    add();
  });
  setContent(dialog, el("h2", {}, "A new scenario"), el("p", {}, `It begins as ${editor.scenario} and is kept beside it.`), field("Name", name),
    el("div", { class: "row" }, el("button", { class: "strong", onclick: add }, "Add"), el("button", { onclick: () => dialog.close() }, "Cancel")));
  dialog.showModal();
  name.select();
}
