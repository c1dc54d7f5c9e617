/* The site as it is on the page: what was read (base), what it is now, and every step between.
   A step is a whole new picture of it that shares with the last one what did not change. */
const listeners = [];
let base = null, baseId = "", now = null, past = [], future = [], forms = {}, styles = [], next = 1;

export const get = () => now;
export const id = () => baseId;
export const formOf = (role) => forms[role];
export const allForms = () => forms;
export const allStyles = () => styles;
export const styleOf = (name) => styles.find((one) => one.name === name);
export const feature = (name) => now.features.get(name);
export const features = () => now.features;
export const shots = () => now.shot;
export const listen = (heard) => listeners.push(heard);

function tell(before) {
  for (const heard of listeners) { heard(before); }
}

function keyed(list, keys) {
  return list.map((one, k) => {
    const {_was, ...rest} = one;
    return {...rest, _key: (keys && keys[k]) || "s" + next++};
  });
}

function picture(read, keys) {
  return {
    features: new Map(read.features.map((one) => [one.id, one])),
    shot: keyed(read.shot, keys && keys.shot),
    crew: keyed(read.crew, keys && keys.crew),
    ride: read.ride,
  };
}

/* Opens what the server read; what was done so far can still be undone. */
export function open(read) {
  const before = now;
  if (read.forms) { forms = read.forms; styles = read.styles; }
  const names = (list) => read[list].map((one) => {
    const same = now && now[list].find((mine) => mine.name === one.name);
    return same && same._key;
  });
  base = picture(read, now && {shot: names("shot"), crew: names("crew")});
  baseId = read.base;
  if (before) { past.push(["load anew", before]); future = []; }
  now = base;
  tell(before);
}

/* What was saved (`sent`, as it then was) is what is read from now on. */
export function saved(read, sent) {
  const keys = {shot: sent.shot.map((one) => one._key), crew: sent.crew.map((one) => one._key)};
  base = {...picture(read, keys), shot: sent.shot, crew: sent.crew, ride: sent.ride};
  for (const [name, one] of sent.features) {
    if (base.features.has(name)) { base.features.set(name, one); }
  }
  baseId = read.base;
  tell(now);
}

/* One step: `change` gets what it is now and returns what it shall be. Steps of one `drag` that
   follow each other are one. */
export function step(name, change, drag) {
  const made = change(now);
  if (made === now) { return; }
  const last = past[past.length - 1];
  if (!(drag && last && last[2] === drag && !future.length)) { past.push([name, now, drag]); }
  future = [];
  const before = now;
  now = {...made, shot: ordered(made.shot)};
  tell(before);
}

function ordered(list) {
  const place = (one) => {
    const at = base.shot.findIndex((old) => old._key === one._key);
    return at < 0 ? 1e6 : at;
  };
  return [...list].sort((a, b) => place(a) - place(b));
}

/* Ends a drag, so that the next one is a step of its own. */
export function rest() {
  const last = past[past.length - 1];
  if (last) { last[2] = undefined; }
}

export function put(name, one, drag) {
  step(name, (it) => ({...it, features: new Map(it.features).set(one.id, one)}), drag);
}

export function remove(name, which) {
  step(name, (it) => {
    const left = new Map(it.features);
    left.delete(which);
    return {...it, features: left};
  });
}

export function setShot(name, key, keys, drag) {
  step(name, (it) => ({...it, shot: it.shot.map((one) => {
    if (one._key !== key) { return one; }
    const made = {...one, ...keys};
    for (const k of Object.keys(made)) { if (made[k] === undefined) { delete made[k]; } }
    return made;
  })}), drag);
}

export function addShot(keys) {
  const key = "s" + next++;
  step("added a shot", (it) => ({...it, shot: [...it.shot, {...keys, _key: key}]}));
  return key;
}

export const undoes = () => past.length ? past[past.length - 1][0] : "";
export const redoes = () => future.length ? future[future.length - 1][0] : "";

export function undo() {
  if (!past.length) { return; }
  const [name, before] = past.pop(), was = now;
  future.push([name, now]);
  now = {...before, shot: ordered(before.shot)};
  tell(was);
}

export function redo() {
  if (!future.length) { return; }
  const [name, after] = future.pop(), was = now;
  past.push([name, now]);
  now = {...after, shot: ordered(after.shot)};
  tell(was);
}

function listOf(name) {
  return now[name].map((one) => {
    const {_key, ...rest} = one;
    const at = base[name].findIndex((old) => old._key === _key);
    return at < 0 ? rest : {...rest, _was: at};
  });
}

const same = (a, b) => a.length === b.length && a.every((one, k) => one === b[k]);

/* What is otherwise than what was read, as the server takes it; and how many things that are. */
export function changes() {
  const found = {}, put_ = {}, removed = [];
  for (const [name, one] of now.features) {
    if (base.features.get(name) !== one) { put_[name] = one; }
  }
  for (const name of base.features.keys()) {
    if (!now.features.has(name)) { removed.push(name); }
  }
  if (Object.keys(put_).length) { found.features = put_; }
  if (removed.length) { found.removed = removed; }
  for (const list of ["shot", "crew"]) {
    if (!same(now[list], base[list])) { found[list] = listOf(list); }
  }
  if (now.ride !== base.ride) { found.ride = now.ride; }
  return found;
}

export function count() {
  if (!now) { return 0; }
  let found = 0;
  for (const [name, one] of now.features) { found += base.features.get(name) !== one; }
  for (const name of base.features.keys()) { found += !now.features.has(name); }
  for (const list of ["shot", "crew"]) {
    for (const one of now[list]) { found += !base[list].includes(one); }
    for (const one of base[list]) { found += !now[list].some((mine) => mine._key === one._key); }
  }
  return found + (now.ride !== base.ride);
}

export function fresh(role) {
  for (let k = 1; ; k += 1) {
    const name = role + "-" + String(k).padStart(2, "0");
    if (!now.features.has(name) && !base.features.has(name)) { return name; }
  }
}

export const nameOf = (one) => one.properties.name || one.id;
