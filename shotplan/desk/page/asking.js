/* Asks for the words: one question at a time, the newest first; the chosen shot before the others,
   its picture when all words are there. */
import * as api from "./api.js";
import * as doc from "./doc.js";

const said = new Map();   // key of a shot -> {word, of (the picture of the site it is of), at}
const frames = new Map();
const values = new Map(); // key -> key of a number -> Map of value -> word
let chosen = "", busy = false, heard = () => {}, problems = [], ground = null, onGround = () => {};

export const words = (key) => said.get(key);
export const frame = (key) => frames.get(key);
export const flown = (key, field) => (values.get(key) || new Map()).get(field) || new Map();
export const wrong = () => problems;
export const listen = (told, toldGround) => { heard = told; onGround = toldGround; };

export function choose(key) {
  chosen = key;
  pump();
}

const about = (now) => ({features: now.features, ride: now.ride, crew: now.crew});
const alike = (a, b) => a && a.features === b.features && a.ride === b.ride && a.crew === b.crew;

export function fresh(key) {
  const found = said.get(key), shot = doc.shots().find((one) => one._key === key);
  return Boolean(found && found.shot === shot && alike(found.of, about(doc.get())));
}

function stale(now) {
  const keys = doc.shots().map((one) => one._key);
  const order = [chosen, ...keys.filter((key) => key !== chosen)];
  return order.find((key) => keys.includes(key) && !fresh(key) &&
    !(problems.length && problems.now === now));
}

const groundOf = (now) => [...now.features.values()].filter((one) => one.properties.role === "ride");

function staleGround(now) {
  const rides = groundOf(now);
  return !ground || ground.ride !== now.ride || ground.rides.length !== rides.length ||
    rides.some((one, k) => one !== ground.rides[k]);
}

/* Asks the next question, unless one is being asked. */
export async function pump() {
  if (busy || !doc.get()) { return; }
  const now = doc.get();
  const key = stale(now), shot = key && doc.shots().find((one) => one._key === key);
  const picture = !key && !problems.length && chosen && fresh(chosen) &&
    (!frames.get(chosen) || frames.get(chosen).word !== said.get(chosen).word);
  const land = staleGround(now) && !(problems.length && problems.now === now);
  if (!key && !picture && !land) { return; }
  busy = true;
  try {
    if (land && (!ground || key !== chosen)) { await askGround(now); }
    else if (key) { await askWord(now, key, shot); }
    else { await askFrame(now); }
  } catch { await new Promise((done) => setTimeout(done, 1500)); }
  busy = false;
  heard();
  pump();
}

function request(key) {
  const index = doc.shots().findIndex((one) => one._key === key);
  return {base: doc.id(), changes: doc.changes(), shot: Math.max(index, 0)};
}

async function askGround(now) {
  const answer = await api.ask("ground", request(chosen));
  if (answer.relief) {
    ground = {ride: now.ride, rides: groundOf(now)};
    onGround(answer);
    problems = [];
  } else { refused(answer, now); }
}

async function askWord(now, key, shot) {
  const begun = performance.now();
  const answer = await api.ask("word", request(key));
  if (!answer.word) { return refused(answer, now); }
  problems = [];
  const took = (performance.now() - begun) / 1000;
  remember(key, shot, now, answer.word);
  said.set(key, {word: answer, shot, of: about(now), took, at: Date.now()});
}

async function askFrame() {
  const word = said.get(chosen).word, key = chosen;
  const answer = await api.ask("frame", request(key));
  if (answer.picture) { frames.set(key, {...answer, word}); }
  else { frames.set(key, {word}); }
}

function refused(answer, now) {
  if (answer.dropped) { return new Promise((done) => setTimeout(done, 300)); }
  problems = answer.problems || [{where: "", what: answer.lost || answer.wrong || "no answer"}];
  problems.now = now;
}

/* The word of each value that was flown while nothing else changed. */
function remember(key, shot, now, word) {
  const last = said.get(key);
  for (const [field, value] of Object.entries(shot)) {
    if (typeof value !== "number") { continue; }
    const others = {...shot, [field]: 0}, held = values.get(key) || new Map();
    const row = held.get(field);
    const kept = row && last && alike(row.of, about(now)) &&
      JSON.stringify(row.others) === JSON.stringify(others);
    const list = kept ? row : Object.assign(new Map(), {of: about(now), others});
    list.set(value, word);
    held.set(field, list);
    values.set(key, held);
  }
}

/* What was proved over all rides stands until something changes. */
export function proved(key, answer, now, shot) {
  said.set(key, {word: answer, shot, of: about(now), proved: true, at: Date.now()});
  heard();
  pump();
}

export const chosenKey = () => chosen;
