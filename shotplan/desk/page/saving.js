/* Saving, and what to do where somebody else wrote the same files. */
import * as api from "./api.js";
import * as doc from "./doc.js";
import {byId, fill, make} from "./dom.js";

const EVERY_MS = 2500;
let conflict = null, said = "", busy = false;

export function show() {
  const count = doc.count();
  byId("save").disabled = !count || busy;
  fill(byId("unsaved"), make("b", {}, count ? "● " + count + (count === 1 ? " change" : " changes") +
    " not saved" : "everything is saved"), said ? make("span", {}, said) : null);
  for (const [id, word, what] of [["undo", "undo", doc.undoes()], ["redo", "redo", doc.redoes()]]) {
    byId(id).disabled = !what;
    byId(id).querySelector("span").textContent = what ? word + ": " + what : word;
    byId(id).setAttribute("aria-label", what ? word + ": " + what : word);
  }
}

export async function save(over) {
  if (busy || !doc.count()) { return; }
  busy = true;
  show();
  const sent = doc.get();
  const said_ = {base: doc.id(), changes: doc.changes()};
  try {
    const answer = await api.save(over ? {...said_, over} : said_);
    if (answer.saved) {
      doc.saved(answer, sent);
      said = "saved " + new Date().toTimeString().slice(0, 5) + ", last version kept beside it";
      row(null);
    } else if (answer.changed) { await elsewhere(answer.changed);
    } else if (answer.problems) { refused(answer.problems);
    } else { refused([{where: "", what: answer.wrong || "it was not saved"}]); }
  } catch { refused([{where: "", what: "nobody answers: is shotplan draw still running?"}]); }
  busy = false;
  show();
}

function row(made) {
  conflict = made && made.theirs ? made : null;
  fill(byId("rows"), made ? made.row : null);
}

function refused(problems) {
  row({row: make("div", {class: "row"}, make("p", {}, make("b", {}, "Not saved. "),
    problems.map((one) => one.where + (one.where ? ": " : "") + one.what).join("; ")),
  make("button", {type: "button", onclick: () => row(null)}, "close"))});
}

/* Their version is read beside, so that each answer knows exactly what it is about. */
async function elsewhere(names) {
  const theirs = await api.state();
  if (conflict && theirs.base === conflict.theirs.base) { return; }
  if (theirs.problems) {
    refused(theirs.problems);
    return;
  }
  const both = make("p", {id: "both", hidden: true});
  const made = {theirs, row: make("div", {class: "row conflict"},
    make("p", {}, make("b", {}, names.join(", ") + " was changed elsewhere."),
      " Nothing of yours or theirs is lost."),
    make("button", {type: "button", id: "show-both", onclick: () => {
      both.hidden = !both.hidden;
      both.textContent = compared(theirs);
    }}, "show both"),
    make("button", {type: "button", id: "take-theirs", onclick: () => {
      row(null);
      doc.open(theirs);
      said = "loaded anew; undo brings yours back";
      show();
    }}, "take theirs"),
    make("button", {type: "button", id: "keep-mine", onclick: () => save(theirs.base)},
      "keep mine"), both)};
  row(made);
}

const flat = (one) => JSON.stringify(one, (key, value) => key === "_key" || key === "_was" ? undefined : value);

function compared(theirs) {
  const mine = doc.get(), there = new Map(theirs.features.map((one) => [one.id, one]));
  const names = new Set();
  for (const [name, one] of mine.features) {
    if (!there.has(name)) { names.add(name + ": only yours"); }
    else if (flat(there.get(name)) !== flat(one)) { names.add(name + ": differs"); }
  }
  for (const name of there.keys()) { if (!mine.features.has(name)) { names.add(name + ": only theirs"); } }
  const shots = new Map(theirs.shot.map((one) => [one.name, one]));
  for (const one of mine.shot) {
    const other = shots.get(one.name);
    if (!other) { names.add("shot " + one.name + ": only yours"); }
    else if (flat(other) !== flat(one)) { names.add("shot " + one.name + ": differs"); }
  }
  for (const one of theirs.shot) {
    if (!mine.shot.some((own) => own.name === one.name)) { names.add("shot " + one.name + ": only theirs"); }
  }
  if (flat(theirs.ride) !== flat(mine.ride)) { names.add("the ride: differs"); }
  return names.size ? [...names].join("; ") : "Both say the same of things, shots and ride.";
}

async function look() {
  try {
    const answer = await api.changed(doc.id());
    if (answer.changed.length && !busy) { await elsewhere(answer.changed); }
  } catch { /* it is said when something is saved */ }
  setTimeout(look, EVERY_MS);
}

export function watch() {
  setTimeout(look, EVERY_MS);
  window.addEventListener("beforeunload", (event) => { if (doc.count()) { event.preventDefault(); } });
}
