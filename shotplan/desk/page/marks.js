/* How the things on the ground look: the marks of the map's own legend. */
import * as doc from "./doc.js";
import {drawing, make} from "./dom.js";
import {canvas, label, map} from "./map.js";

const L = window.L;
const INK = "#1d2125";
const LOOKS = {
  wood: {color: "#3c5340", fillColor: "#b7c4ae", fillOpacity: 0.85, weight: 1.5},
  building: {color: INK, fillColor: "#6a6057", fillOpacity: 1, weight: 1.5},
  tree: {color: "#3c5340", fillColor: "#557255", fillOpacity: 0.85, weight: 1.5},
  pole: {color: INK, fillColor: "#fff", fillOpacity: 1, weight: 3},
  wire: {color: INK, weight: 2},
  people: {color: "#a8492a", fillColor: "#a8492a", fillOpacity: 0.12, weight: 3, dashArray: "8 5"},
  "keep-out": {color: "#5b1a52", fillColor: "#5b1a52", fillOpacity: 0.18, weight: 3,
    dashArray: "3 4"},
  wildlife: {color: "#5f5a1f", fillColor: "#b5ad55", fillOpacity: 0.2, weight: 2,
    dashArray: "2 6"},
  water: {color: "#5f7f95", fillColor: "#a9c2d0", fillOpacity: 0.8, weight: 1},
  boundary: {color: INK, weight: 2.5, dashArray: "14 4 2 4", fill: false},
  surveyed: {color: "#4d4a73", weight: 1.5, dashArray: "3 5", fill: false},
  ride: {color: "#6a4a1c", weight: 3},
};
const LABELLED = new Set(["place", "people", "wire", "wood", "water", "keep-out", "building"]);
const FEW = 120;
const drawn = new Map();
let onPick = () => {};

export const icons = {
  pick: [["M8 3 8 22 13 17 17 25 20 23 16 16 22 15Z", "line white"]],
  tree: [["M14 4a10 10 0 1 0 .01 0Z", "tree"], ["M14 12a2 2 0 1 0 .01 0Z", "dot"]],
  wood: [["M4 12 14 4 25 9 22 24 8 24Z", "wood"], ["M11 18 13 13 15 18ZM17 19 19 14 21 19Z", "tree"]],
  pole: [["M14 9a5 5 0 1 0 .01 0Z", "line white"]],
  wire: [["M6 21 22 8", "line"], ["M6 18a3 3 0 1 0 .01 0ZM22 5a3 3 0 1 0 .01 0Z", "line white"]],
  building: [["M4 9 22 5 25 19 7 23Z", "building"]],
  people: [["M5 24 9 17 16 15 18 8 24 4", "people"]],
  "keep-out": [["M5 5H23V23H5Z", "keep-out"]],
  wildlife: [["M4 16Q9 6 14 14 19 6 24 16", "wildlife"]],
  water: [["M4 16Q5 6 15 6 25 8 24 17 22 23 13 22 5 22 4 16Z", "water"]],
  place: [["M14 4 24 14 14 24 4 14Z", "line white"]],
  launch: [["M5 5H23V23H5Z", "line white"], ["M14 11a3 3 0 1 0 .01 0Z", "dot"]],
  boundary: [["M5 7 22 4 25 22 8 25Z", "boundary"]],
  surveyed: [["M5 7 22 4 25 22 8 25Z", "surveyed"]],
  ride: [["M4 24 24 5M12 16 18 16M12 16 12 10", "ride"]],
};

export const icon = (name) => drawing(icons[name] || icons.place);
export const picked = (heard) => { onPick = heard; };

const flip = (p) => [p[1], p[0]];
const nested = (list) => typeof list[0] === "number" ? flip(list) : list.map(nested);

/* Every part of a geometry as lists of [lat, lon]. */
function shape(geometry, look, role) {
  const at = nested(geometry.coordinates), kind = geometry.type;
  const style = {...look, renderer: canvas, pane: "things"};
  if (kind === "Point") { return [L.circleMarker(at, {...style, radius: 6})]; }
  if (kind === "MultiPoint") { return at.map((one) => L.circleMarker(one, {...style, radius: 6})); }
  if (kind.endsWith("LineString")) {
    const casing = role === "people" || role === "ride";
    const under = L.polyline(at, {renderer: canvas, pane: "things", weight: 7, color: "#fff",
      opacity: 0.8, interactive: false});
    const line = L.polyline(at, {...style, fill: false});
    return casing ? [under, line] : [line];
  }
  return [L.polygon(at, style)];
}

function tree(one) {
  const at = flip(one.geometry.coordinates), p = one.properties, made = [];
  const radius = Number(p.radius_m) || 1, off = Number(p.error_m ?? 1) || 0;
  if (off) {
    made.push(L.circle(at, {renderer: canvas, pane: "things", radius: radius + off, weight: 1.2,
      dashArray: "4 4", color: "#4a4f55", fill: false, interactive: false}));
  }
  made.push(L.circle(at, {...LOOKS.tree, renderer: canvas, pane: "things", radius}));
  made.push(L.circleMarker(at, {renderer: canvas, pane: "things", radius: 2, color: INK,
    fillOpacity: 1, interactive: false}));
  return made;
}

function place(one) {
  const at = flip(one.geometry.coordinates);
  const mark = L.divIcon({className: "mark", iconSize: [24, 24],
    html: icon(one.id === "launch" ? "launch" : "place")});
  return [L.marker(at, {icon: mark, keyboard: false, zIndexOffset: -500})];
}

function wire(one) {
  const [line] = shape(one.geometry, LOOKS.wire, "wire");
  const ends = one.geometry.coordinates.map((p) => L.circleMarker(flip(p),
    {...LOOKS.pole, weight: 2, renderer: canvas, pane: "things", radius: 4, interactive: false}));
  return [line, ...ends];
}

function layers(one) {
  const role = one.properties.role;
  if (role === "tree") { return tree(one); }
  if (role === "place") { return place(one); }
  if (role === "wire" && one.geometry.type === "LineString") { return wire(one); }
  return shape(one.geometry, LOOKS[role] || LOOKS.boundary, role);
}

/* Where a thing's name stands. */
export function middle(one) {
  const at = nested(one.geometry.coordinates);
  if (one.geometry.type === "Point") { return at; }
  const flat = one.geometry.type === "LineString" ? at : at.flat(Infinity);
  if (one.geometry.type === "LineString") { return at[Math.floor((at.length - 1) / 2)]; }
  let lat = 0, lon = 0;
  for (let k = 0; k < flat.length; k += 2) { lat += flat[k]; lon += flat[k + 1]; }
  return [2 * lat / flat.length, 2 * lon / flat.length];
}

function name(one) {
  const role = one.properties.role, said = one.properties.name || (role === "place" ? one.id : "");
  if (!said || !LABELLED.has(role)) { return null; }
  return label(middle(one), said, "name " + role);
}

export function show(one) {
  hide(one.id);
  let made = [];
  try { made = layers(one); } catch { return; }  // a shape nobody can draw: the problems say so
  const group = L.layerGroup(made).addTo(map);
  for (const layer of made) {
    if (layer.options.interactive !== false) {
      layer.on("click", (event) => onPick(one.id, event));
    }
  }
  const said = doc.features().size <= FEW ? name(one) : null;
  if (said) { said.addTo(group); }
  drawn.set(one.id, group);
}

export function hide(which) {
  const old = drawn.get(which);
  if (old) { old.remove(); drawn.delete(which); }
}

const ORDER = ["water", "wood", "surveyed", "boundary", "wildlife", "keep-out"];
const rank = (one) => {
  const at = ORDER.indexOf(one.properties.role);
  return at < 0 ? ORDER.length : at;
};

/* Draws what is otherwise than before. */
export function refresh(before) {
  const now = doc.features(), old = before ? before.features : new Map();
  for (const which of old.keys()) { if (!now.has(which)) { hide(which); } }
  const fresh = [...now.values()].filter((one) => old.get(one.id) !== one || !drawn.has(one.id));
  for (const one of fresh.sort((a, b) => rank(a) - rank(b))) { show(one); }
}

export const tag = (text, kind) => make("span", {class: kind}, text);
