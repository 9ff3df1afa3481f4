// Lengths as the house file writes them; every other unit is turned by the program.

import { editor, house } from "./editor.js";

export function lengthText(value) {
  if ((house()?.show || "si") === "si") return `${+value.toFixed(3) || 0} m`;
  const tenths = Math.round((Math.abs(value) / 0.0254) * 10) / 10;
  const feet = Math.floor(tenths / 12 + 1e-9);
  const inches = +(tenths - feet * 12).toFixed(1);
  const sign = value < 0 && tenths ? "-" : "";
  return sign + (feet ? `${feet} ft${inches ? ` ${inches} in` : ""}` : `${inches} in`);
}

// A length as the reader chose to read it.
export const shownLength = (value) => (editor.units === "us" ? `${(value / 0.3048).toFixed(1)} ft` : `${value.toFixed(2)} m`);

// Where an anemometer is held.
export const downstream = () => (editor.units === "us" ? "5 in" : "12 cm");

// What was typed, with the unit that is shown where there was none.
export function withUnit(text, si, us) {
  return /^[-+]?[\d.,]+$/.test(text) ? `${text} ${editor.units === "us" ? us : si}` : text;
}

// A length that was typed, in metres; a bare number is in the unit that is shown. NaN where it is none.
export function metres(text) {
  const units = { m: 1, cm: 0.01, mm: 0.001, ft: 0.3048, "'": 0.3048, in: 0.0254, '"': 0.0254 };
  const parts = [...text.trim().toLowerCase().replace(/,/g, ".").matchAll(/([\d.]+)\s*(mm|cm|m|ft|in|'|")?/g)];
  if (!parts.length) return NaN;
  return parts.reduce((sum, [, number, unit], i) => {
    const usual = editor.units === "us" ? (i && parts[0][2] ? "in" : "ft") : "m";
    return sum + Number(number) * units[unit || usual];
  }, 0);
}
