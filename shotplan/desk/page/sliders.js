/* A slider with its number, and under it the word of each value that was flown. */
import * as asking from "./asking.js";
import * as doc from "./doc.js";
import {make, number} from "./dom.js";

const REST_MS = 900; // a step of its own begins after so long
let resting = 0;

export function slider(shot, field, name) {
  const value = shot[field.key] ?? field.begins ?? field.low, id = "slide-" + field.key;
  const high = Math.max(field.high, Number(value) || 0);
  const set = (to, drag) => doc.setShot("changed " + name + ", " + field.label, shot._key,
    {[field.key]: to}, drag);
  const box = make("input", {type: "text", inputMode: "decimal", autocomplete: "off",
    id: "number-" + field.key, "aria-label": field.label + " in " + field.unit,
    value: shown(value), onchange: (event) => {
      const to = number(event.target.value);
      const bad = Number.isNaN(to) || (to === undefined && field.needed);
      event.target.setAttribute("aria-invalid", String(bad));
      if (!bad) { set(to); }
    }});
  const range = make("input", {type: "range", id, min: String(field.low), max: String(high),
    step: String(field.step), oninput: (event) => {
      box.value = shown(Number(event.target.value));
      clearTimeout(resting);
      set(Number(event.target.value), "slide " + shot._key + field.key);
    }, onchange: () => { resting = setTimeout(doc.rest, REST_MS); }});
  range.value = String(value);
  return make("div", {class: "slider"},
    make("label", {for: id}, field.label),
    make("span", {class: "number"}, box, make("em", {}, field.unit)),
    range, bar(shot, field, high));
}

const shown = (value) => typeof value === "number" ? String(Math.round(value * 100) / 100) : "";

function bar(shot, field, high) {
  const flown = [...asking.flown(shot._key, field.key)].sort((a, b) => a[0] - b[0]);
  const span = high - field.low || 1, made = make("div", {class: "flown", "aria-hidden": "true"});
  for (const [value, word] of flown) {
    const part = make("i", {class: word});
    part.style.left = 100 * (value - field.low) / span + "%";
    made.append(part);
  }
  return made;
}
