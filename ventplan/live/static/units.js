// Lengths and temperatures: as the house file writes them, as the reader reads them, and as they are typed. The program
// converts everything else.

import { editor, house } from "./editor.js";

const FOOT = 0.3048; // m
const INCH = 0.0254; // m
const FACTORS = { m: 1, cm: 0.01, mm: 0.001, ft: FOOT, "'": FOOT, in: INCH, '"': INCH };
const SAME = 0.0015; // m: the house file keeps millimetres, or tenths of an inch

const us = () => editor.units === "us";

// A length as the house file writes it.
export function lengthText(value) {
  if ((house()?.show || "si") === "si") return `${+value.toFixed(3) || 0} m`;
  const tenths = Math.round((Math.abs(value) / INCH) * 10) / 10;
  const feet = Math.floor(tenths / 12 + 1e-9);
  const inches = +(tenths - feet * 12).toFixed(1);
  const sign = value < 0 && tenths ? "-" : "";
  return sign + (feet ? `${feet} ft${inches ? ` ${inches} in` : ""}` : `${inches} in`);
}

// A length as people read it: centimetres, or whole inches.
export function shownLength(value) {
  if (!us()) return `${value.toFixed(2)} m`;
  const inches = Math.round(Math.abs(value) / INCH);
  const sign = value < 0 && inches ? "-" : "";
  if (inches < 24) return `${sign}${inches} in`;
  return `${sign}${Math.floor(inches / 12)} ft${inches % 12 ? ` ${inches % 12} in` : ""}`;
}

// A length that was typed, in metres; a bare number is in the given unit. NaN if it is not a length.
export function metres(text, bare = us() ? "ft" : "m") {
  const parts = [...text.trim().toLowerCase().replace(/,/g, ".").matchAll(/([\d.]+)\s*(mm|cm|m|ft|in|'|")?/g)];
  if (!parts.length) return NaN;
  const sum = parts.reduce((all, [, number, unit], i) => all + Number(number) * FACTORS[unit || (i && parts[0][2] && bare === "ft" ? "in" : bare)], 0);
  return /^\s*[-−]/.test(text) ? -sum : sum;
}

// A length in a field: as it was typed if it was, otherwise as people read it.
const typedLengths = [];
export const rememberTyped = (text) => typedLengths.push({ text, value: metres(text), units: editor.units });
export function fieldLength(value) {
  if (value === null || value === undefined) return "";
  const typed = typedLengths.findLast((t) => t.units === editor.units && Math.abs(t.value - value) < SAME);
  return typed ? typed.text : us() ? shownLength(value) : `${+value.toFixed(3)} m`;
}

// A length of the house file in a field: as it is written if that is in the reader's units.
export function writtenLength(written) {
  if (written === null || written === undefined) return "";
  const text = String(written);
  const own = us() ? /ft|in|['"]/ : /m|^[^a-z'"]*$/i;
  return own.test(text) ? text : fieldLength(metres(text, "m"));
}

// What was typed, with the unit that is shown if it had none.
export function withUnit(text, si, american) {
  return /^[-+]?[\d.,]+$/.test(text) ? `${text} ${us() ? american : si}` : text;
}

export const shownTemperature = (celsius) => (us() ? `${(celsius * 1.8 + 32).toFixed(1)} °F` : `${celsius.toFixed(1)} °C`);

// How far downstream of an opening an anemometer is held.
export const downstream = () => (us() ? "5 in" : "12 cm");
