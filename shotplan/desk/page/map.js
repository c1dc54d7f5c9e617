/* The map: the ground from above, the ride with its metres, north, wind and a scale. */
import {byId, fill, make, drawing} from "./dom.js";

const L = window.L;
export const map = L.map("map", {
  zoomSnap: 0.25, maxZoom: 23, minZoom: 11, zoomControl: false, attributionControl: false,
  doubleClickZoom: false, boxZoom: false, keyboard: true, keyboardPanDelta: 60,
});
for (const [name, z] of [["relief", 200], ["lines", 250], ["things", 400], ["flights", 450],
  ["labels", 620]]) {
  map.createPane(name).style.zIndex = z;
}
map.getPane("flights").style.pointerEvents = "none";
map.getPane("labels").style.pointerEvents = "none";
export const canvas = L.canvas({pane: "things", tolerance: 12, padding: 0.4});
const lines = L.canvas({pane: "lines", padding: 0.4});
L.control.zoom({position: "topright"}).addTo(map);
L.control.scale({position: "bottomleft", maxWidth: 140}).addTo(map);

const ground = L.layerGroup().addTo(map), ride = L.layerGroup().addTo(map);
let rideLine = [], fitted = false, moved = false;

export function words(text, kind) {
  return make("span", {class: kind}, text);
}

export function label(at, text, kind) {
  return L.marker(at, {
    pane: "labels", interactive: false, keyboard: false,
    icon: L.divIcon({className: "word " + kind, html: words(text, ""), iconSize: [0, 0]}),
  });
}

export function showGround(said) {
  ground.clearLayers();
  L.imageOverlay(said.relief, said.corners, {pane: "relief"}).addTo(ground);
  for (const one of said.contours) {
    L.polyline(one.line, {
      renderer: lines, interactive: false, weight: one.fifth ? 1.4 : 0.7,
      color: one.fifth ? "#75633f" : "#8b7a5e",
    }).addTo(ground);
  }
  for (const one of said.elevations) { label(one.at, one.text, "height").addTo(ground); }
  showRide(said.ride_line);
  fill(byId("air"), barb(said.wind_from_deg), said.air);
  map.setMaxBounds(L.latLngBounds(said.corners).pad(0.6));
  if (!fitted) {
    map.fitBounds(L.latLngBounds(rideLine.map((p) => [p[0], p[1]])).pad(0.15), {animate: false});
    fitted = true;
    map.once("dragstart", () => { moved = true; });
    map.getContainer().addEventListener("wheel", () => { moved = true; }, {once: true});
  }
}

/* Before the ground is known, or where the folder cannot be read: what is drawn. */
export function beginAt(points) {
  if (points.length) { map.fitBounds(L.latLngBounds(points).pad(0.2), {animate: false, maxZoom: 18}); }
  else { map.setView([0, 0], 12); }
}

/* Once, when the flights are known and nobody moved the map: all of them in view. */
export function fitAlso(points) {
  if (moved || !points.length) { return; }
  moved = true;
  const all = L.latLngBounds([...rideLine.map((p) => [p[0], p[1]]), ...points]);
  map.fitBounds(all, {animate: false, paddingTopLeft: [24, 34], paddingBottomRight: [64, 44]});
}

/* The ride from [lat, lon, metre], an arrow and its metres every so often. */
export function showRide(line) {
  rideLine = line;
  ride.clearLayers();
  const path = line.map((p) => [p[0], p[1]]);
  L.polyline(path, {renderer: lines, weight: 5, color: "#fff", opacity: 0.7, interactive: false})
    .addTo(ride);
  L.polyline(path, {renderer: lines, weight: 2.5, color: "#6a4a1c", interactive: false})
    .addTo(ride);
  const last = line.length ? line[line.length - 1][2] : 0;
  const apart = last > 3000 ? 500 : last > 1200 ? 200 : last > 500 ? 100 : 50;
  for (let m = apart; m < last - apart / 4; m += apart) {
    const at = along(m);
    if (at) { label(at, String(m), "metre").addTo(ride); }
  }
  const step = apart / 2;
  for (let m = step; m < last; m += step) { arrow(m).addTo(ride); }
}

function arrow(m) {
  const at = along(m), before = along(m - 2);
  const turn = Math.atan2((at[1] - before[1]) * Math.cos(at[0] * Math.PI / 180), at[0] - before[0]);
  const head = drawing([["M0 -6 5 5 0 2 -5 5Z", "ride-head"]], "-8 -8 16 16");
  head.firstChild.setAttribute("transform", "rotate(" + turn * 180 / Math.PI + ")");
  return L.marker(at, {pane: "labels", interactive: false, keyboard: false,
    icon: L.divIcon({className: "head", html: head, iconSize: [14, 14]})});
}

export const rideNow = () => rideLine;

/* The point of the ride at a metre, [lat, lon]; null where there is none. */
export function along(m) {
  for (let k = 1; k < rideLine.length; k += 1) {
    const a = rideLine[k - 1], b = rideLine[k];
    if (b[2] >= m) {
      const t = Math.max(0, (m - a[2]) / Math.max(b[2] - a[2], 1e-6));
      return [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
    }
  }
  return rideLine.length ? rideLine[rideLine.length - 1].slice(0, 2) : null;
}

/* Which metre of the ride is nearest, and how far to its side: words of where a thing stands. */
export function beside(at) {
  let best = null;
  for (let k = 0; k < rideLine.length; k += 1) {
    const far = map.distance(at, [rideLine[k][0], rideLine[k][1]]);
    if (!best || far < best.far) { best = {far, m: rideLine[k][2], k}; }
  }
  if (!best) { return ""; }
  const a = rideLine[Math.max(0, best.k - 1)], b = rideLine[Math.min(rideLine.length - 1, best.k + 1)];
  const east = Math.cos(a[0] * Math.PI / 180);
  const cross = (b[1] - a[1]) * east * (at[0] - a[0]) - (b[0] - a[0]) * (at[1] - a[1]) * east;
  if (best.far < 1) { return "on the ride at " + Math.round(best.m) + " m"; }
  const side = cross > 0 ? "left" : "right", far = best.far < 10 ? best.far.toFixed(1) : Math.round(best.far);
  return far + " m " + side + " of the ride at " + Math.round(best.m) + " m";
}

/* The staff points to where the wind comes from. */
function barb(from) {
  if (from === null) { return null; }
  const made = drawing([["M0 8V-10M0 -10 7 -13M0 -5 4 -7M-3 8a3 3 0 1 0 6 0a3 3 0 1 0 -6 0", "wind"]],
    "-16 -16 32 32");
  made.firstChild.setAttribute("transform", "rotate(" + from + ")");
  return made;
}

/* Metres to degrees at a place. */
export function shifted(at, east, north) {
  return [at[0] + north / 111320, at[1] + east / (111320 * Math.cos(at[0] * Math.PI / 180))];
}

/* Words that would lie over others leave, the less important ones first. */
const FIRST = ["disc", "tight", "place", "people", "wire", "keep-out", "water", "building", "wood",
  "metre", "height"];
const rankOf = (it) => FIRST.findIndex((kind) => it.classList.contains(kind));
let waiting = 0;

function declutter() {
  const all = [...map.getPane("labels").querySelectorAll(".word")];
  const rows = all.map((it) => [rankOf(it), it.firstChild]).sort((a, b) => a[0] - b[0]);
  for (const [, it] of rows) { it.hidden = false; }
  const boxes = rows.map(([, it]) => it.getBoundingClientRect()), kept = [];
  rows.forEach(([rank, it], k) => {
    const box = boxes[k];
    const over = kept.some((b) => box.left < b.right && b.left < box.right && box.top < b.bottom &&
      b.top < box.bottom);
    if (over && rank > 1) { it.hidden = true; } else { kept.push(box); }
  });
}

export function tidy() {
  cancelAnimationFrame(waiting);
  waiting = requestAnimationFrame(declutter);
}

map.on("zoomend moveend", tidy);

export const seven = (value) => Math.round(value * 1e7) / 1e7;
