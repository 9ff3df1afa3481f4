// The name of a new thing, typed where it stands.

import { el, find } from "./dom.js";
import { edit, house, select } from "./hand.js";

export function nameOnPlan(plan, kind, name) {
  find("inline-name")?.remove();
  const thing = house()?.[`${kind}s`]?.[name];
  if (!thing) return;
  const frame = find("plans").getBoundingClientRect();
  const [x, y] = plan.onScreen(thing.label);
  let over = false;
  const done = async (keep) => {
    if (over) return;
    over = true;
    const called = input.value.trim();
    input.remove();
    if (keep && called && called !== name && await edit(`rename ${name}`, [{ path: [`${kind}s`, name], rename: called }])) select(kind, called);
  };
  const input = el("input", { type: "text", id: "inline-name", value: name, "aria-label": `Name of ${name}`, autocomplete: "off", spellcheck: "false",
    onblur: () => done(true),
    onkeydown: (e) => {
      e.stopPropagation();
      if (e.key === "Enter") done(true);
      if (e.key === "Escape") done(false);
    } });
  find("plans").append(input);
  input.style.left = `${Math.max(4, x - frame.left - input.offsetWidth / 2)}px`;
  input.style.top = `${Math.max(4, y - frame.top - input.offsetHeight / 2)}px`;
  input.focus({ preventScroll: true });
  input.select();
}
