// A new scenario that begins as the one in hand; from then on the two can be held side by side.

import { el, field, find, show } from "./dom.js";
import { chooseScenario, edit, hand } from "./hand.js";

export function askScenario() {
  const dialog = find("ask");
  const name = el("input", { type: "text", value: `${hand.scenario}, changed`, id: "scenario-name", autocomplete: "off" });
  const add = async () => {
    dialog.close();
    const called = name.value.trim();
    if (called && await edit(`add scenario ${called}`, [{ path: ["scenarios", called], add: { "based on": hand.scenario } }])) chooseScenario(called);
  };
  name.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault(); // or it would press the button that the keyboard goes back to
    add();
  });
  show(dialog, el("h2", {}, "A new scenario"), el("p", {}, `It begins as ${hand.scenario} and is kept beside it.`), field("Name", name),
    el("div", { class: "row" }, el("button", { class: "strong", onclick: add }, "Add"), el("button", { onclick: () => dialog.close() }, "Cancel")));
  dialog.showModal();
  name.select();
}
