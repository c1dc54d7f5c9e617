/* The shots as cards: the word, why, the style and its numbers, what works, the proof, a frame. */
import * as api from "./api.js";
import * as asking from "./asking.js";
import * as doc from "./doc.js";
import {byId, chip, fill, letter, make} from "./dom.js";
import {select} from "./form.js";
import {slider} from "./sliders.js";

const FIRST = 5;
let chosen = "", long = null, mended = null, onChoose = () => {}, place = {ride_m: 0, rides: 300};

export const listen = (heard) => { onChoose = heard; };
export const about = (said) => { place = said; };
export const chosenKey = () => chosen;

export function choose(key) {
  chosen = key;
  stop();
  mended = null;
  asking.choose(key);
  onChoose(key);
  show();
}

function stop() {
  if (long) { long.ends.abort(); long = null; }
}

/* Anything that changed ends a proof: it would be of something else. */
export function changed() {
  if (long && long.of !== doc.get()) { stop(); }
  if (mended && mended.of !== doc.get()) { mended = null; }
  if (!doc.shots().some((one) => one._key === chosen)) {
    chosen = doc.shots().length ? doc.shots()[0]._key : "";
    asking.choose(chosen);
  }
}

export function show() {
  const panel = byId("shots"), held = document.activeElement?.id, top = panel.scrollTop;
  if (panel.contains(document.activeElement) && document.activeElement.type === "range") {
    refreshWord();
    return;
  }
  fill(panel, wrongs(), make("div", {class: "tabs", role: "group"},
    ...doc.shots().map(tab), make("button", {type: "button", id: "add-shot", onclick: add}, "+ shot")),
  card());
  panel.scrollTop = top;
  if (held) { byId(held)?.focus(); }
}

/* While a slider is held only what is said of it changes. */
function refreshWord() {
  const shot = mine();
  if (!shot) { return; }
  byId("told")?.replaceWith(told(shot));
  const made = sliders(shot), old = byId("sliders");
  if (old) {
    const bars = [...made.querySelectorAll(".flown")];
    old.querySelectorAll(".flown").forEach((one, k) => bars[k] && one.replaceWith(bars[k]));
  }
  doc.shots().forEach((one) => byId("tab-" + one._key)?.replaceWith(tab(one)));
}

const mine = () => doc.shots().find((one) => one._key === chosen);
const name = (shot) => String(shot.name ?? "without a name");

function wrongs() {
  const found = asking.wrong().filter((one) => one.shot === undefined ||
    doc.shots()[one.shot]?._key !== chosen);
  if (!found.length) { return null; }
  return make("div", {class: "wrong", role: "alert"},
    make("p", {}, "Not flown: this cannot be read."),
    ...found.slice(0, 6).map((one) => make("p", {}, one.feature
      ? make("button", {type: "button", onclick: () => onChoose(null, one.feature)}, one.feature)
      : one.where, ": " + one.what)));
}

function tab(shot, index) {
  const at = doc.shots().indexOf(shot), said = asking.words(shot._key), on = shot._key === chosen;
  const fresh = asking.fresh(shot._key);
  return make("button", {type: "button", id: "tab-" + shot._key, class: fresh ? "tab" : "tab old",
    "aria-pressed": String(on), onclick: () => choose(shot._key)},
  make("b", {}, letter(at)), make("span", {}, name(shot)),
  chip(said ? said.word.word : ""));
}

function card() {
  const shot = mine();
  if (!shot) { return make("p", {class: "hint"}, "No shot yet: add one."); }
  return make("section", {id: "card"}, told(shot), stylesOf(shot), sliders(shot), others(shot),
    picture(shot), works(), buttons(shot));
}

function told(shot) {
  const said = asking.words(shot._key), wrong = asking.wrong();
  const mineWrong = wrong.filter((one) => one.shot !== undefined &&
    doc.shots()[one.shot]?._key === chosen);
  const lines = mineWrong.map((one) => make("p", {class: "bad"}, one.what));
  if (said && !wrong.length) {
    const fresh = asking.fresh(shot._key);
    const proof = said.proved ? "Proved over " + said.word.rides + " rides."
      : fresh ? "Your ride alone, not proved." : "Being flown again …";
    lines.push(...said.word.reasons.map((text) => make("p", {}, text)));
    if (!said.word.reasons.length) { lines.push(make("p", {}, "Nothing is against it.")); }
    if (said.word.good) { lines.push(make("p", {}, said.word.good)); }
    lines.push(make("p", {class: "proof"}, proof));
  } else if (!wrong.length) { lines.push(make("p", {class: "proof"}, "Being flown …")); }
  return make("div", {id: "told", role: "status"},
    make("h2", {}, name(shot), " ", chip(wrong.length ? "" : said ? said.word.word : "")), ...lines);
}

function set(shot, what, keys) {
  doc.setShot("changed " + name(shot) + ", " + what, shot._key, keys);
}

function stylesOf(shot) {
  const all = doc.allStyles(), more = all.slice(FIRST).some((one) => one.name === shot.style);
  const button = (one) => make("button", {type: "button", "aria-pressed": String(one.name === shot.style),
    id: "style-" + one.name, onclick: () => restyle(shot, one)}, one.word);
  const rest = select("more-styles", ["", ...all.slice(FIRST).map((one) => one.name)],
    more ? shot.style : "", (to) => to && restyle(shot, doc.styleOf(to)),
    {"": "more", ...Object.fromEntries(all.map((one) => [one.name, one.word]))});
  rest.setAttribute("aria-label", "more styles");
  return make("div", {class: "styles"}, ...all.slice(0, FIRST).map(button), rest);
}

/* Another style: what both have stays, what it needs begins with something. */
function restyle(shot, style) {
  const keys = {style: style.name}, old = doc.styleOf(shot.style);
  const known = new Set(style.fields.map((one) => one.key));
  for (const field of old ? old.fields : []) {
    if (!known.has(field.key)) { keys[field.key] = undefined; }
  }
  for (const field of style.fields) {
    const now = shot[field.key];
    const fits = !field.choices?.length || field.choices.includes(now);
    if (field.needed && (now === undefined || !fits)) {
      keys[field.key] = field.begins ?? places()[0] ?? "";
    } else if (now !== undefined && !fits) { keys[field.key] = undefined; }
  }
  set(shot, style.word, keys);
}

const places = () => [...doc.features().values()]
  .filter((one) => one.properties.role === "place").map((one) => one.id);

function sliders(shot) {
  const style = doc.styleOf(shot.style);
  const long_ = {low: 0, high: Math.max(10, Math.round(place.ride_m)), step: 1, unit: "m"};
  const rows = (style ? style.fields : []).filter((one) => one.how === "number" &&
    (one.needed || shot[one.key] !== undefined || one.key === "start_deg"));
  return make("div", {id: "sliders"}, ...rows.map((one) => slider(shot, one, name(shot))),
    slider(shot, {...long_, key: "from_m", label: "from metre", begins: 0}, name(shot)),
    slider(shot, {...long_, key: "to_m", label: "to metre", begins: long_.high}, name(shot)));
}

function others(shot) {
  const style = doc.styleOf(shot.style);
  const rows = (style ? style.fields : []).filter((one) => one.how !== "number");
  const row = (field) => {
    const all = field.how === "place" ? [...(field.key === "around" ? ["rider"] : []), ...places()]
      : field.choices;
    const now = shot[field.key] ?? field.begins ?? "";
    const chosen_ = (to) => set(shot, field.label, {[field.key]: to});
    return make("label", {class: "pick"}, field.label,
      select("pick-" + field.key, all, now, chosen_));
  };
  return make("div", {class: "picks"}, ...rows.map(row),
    make("label", {class: "pick"}, "name", make("input", {type: "text", id: "shot-name",
      value: name(shot), maxLength: 80, onchange: (event) => set(shot, "its name",
        {name: event.target.value.trim() || name(shot)})})));
}

function picture(shot) {
  const found = asking.frame(shot._key);
  if (!found || !found.picture) { return null; }
  return make("figure", {}, make("img", {src: found.picture, alt: "what the camera sees"}),
    make("figcaption", {}, found.says));
}

function works() {
  if (!mended || mended.key !== chosen) { return null; }
  if (!mended.changes.length) {
    return make("p", {class: "works", role: "status"},
      mended.in_the_way ? "Nothing near works: " + mended.in_the_way : "Nothing near works.");
  }
  return make("div", {class: "works"}, ...mended.changes.map((one) => make("button", {
    type: "button", onclick: () => doc.setShot("took what works for " + name(mine()), chosen,
      one.keys)}, "→ " + one.text)));
}

function buttons(shot) {
  const bar = long ? make("div", {class: "far", role: "status"},
    make("progress", {max: long.of_ || 1, ...(long.done === null ? {} : {value: long.done})}),
    make("span", {}, long.says), make("button", {type: "button", id: "stop", onclick: () => {
      stop(); show(); }}, "stop")) : null;
  const said = asking.words(shot._key), go = said && said.word.word === "go";
  return make("div", {class: "buttons"},
    make("button", {type: "button", id: "mend", disabled: Boolean(long) || go || !asking.fresh(chosen),
      onclick: mend}, "find what works"),
    make("button", {type: "button", id: "prove", class: "dark",
      disabled: Boolean(long) || !asking.fresh(chosen), onclick: prove},
    "prove: " + place.rides + " rides"),
    bar, make("button", {type: "button", id: "drop-shot", onclick: () => drop(shot)},
      "delete this shot"));
}

function drop(shot) {
  doc.step("deleted shot " + name(shot), (it) => ({...it,
    shot: it.shot.filter((one) => one._key !== shot._key)}));
}

function add() {
  const used = new Set(doc.shots().map(name));
  let k = 1;
  while (used.has("shot " + k)) { k += 1; }
  choose(doc.addShot({name: "shot " + k, style: "follow-behind", distance_m: 8, height_m: 5}));
}

function request() {
  const index = doc.shots().findIndex((one) => one._key === chosen);
  return {base: doc.id(), changes: doc.changes(), shot: index};
}

async function longly(question, says, done) {
  const key = chosen, now = doc.get(), shot = mine(), mine_ = {ends: new AbortController(), of: now,
    done: null, of_: 1, says};
  long = mine_;
  show();
  let answer = null;
  try {
    answer = await api.askLong(question, request(), (far) => {
      if (long !== mine_) { return; }
      if (far.rides) {
        Object.assign(long, {done: far.done, of_: far.of, says: far.rides + " rides, " + far.done +
          " of " + far.of + " questions"});
      }
      show();
    }, mine_.ends.signal);
  } catch { answer = null; }
  if (long !== mine_) { return; }
  long = null;
  if (answer && doc.get() === now) { done(answer, key, now, shot); }
  show();
}

function prove() {
  longly("prove", "flying " + place.rides + " rides …", (answer, key, now, shot) => {
    if (answer.word) { asking.proved(key, answer, now, shot); }
  });
}

function mend() {
  longly("mend", "flying what is near …", (answer, key, now) => {
    if (answer.changes) { mended = {...answer, key, of: now}; }
  });
}
