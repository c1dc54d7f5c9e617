/* The picked thing's handles: every corner, one between each two, one for all of it, a crown's edge.
   By mouse, by touch, and by arrow keys: half a metre, with shift five. */
import * as doc from "./doc.js";
import {make} from "./dom.js";
import {map, seven, shifted} from "./map.js";
import * as marks from "./marks.js";

const L = window.L;
const group = L.layerGroup().addTo(map);
const MOST = 60, STEP_M = 0.5, FAST_M = 5;
const WAYS = {ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowLeft: [-1, 0], ArrowRight: [1, 0]};
let which = "";

const flip = (p) => [p[1], p[0]];
const back = (at) => [seven(at.lng ?? at[1]), seven(at.lat ?? at[0])];
const name = (one) => doc.nameOf(one);

export function pick(name_) {
  which = name_;
  refresh();
}

export function refresh() {
  group.clearLayers();
  const one = which && doc.feature(which);
  if (!one) { return; }
  const role = one.properties.role, type = one.geometry.type;
  if (type === "Point") { point(one, role); return; }
  const rings = lists(one.geometry);
  const all = rings.reduce((sum, ring) => sum + ring.points.length, 0);
  for (const ring of rings) {
    ring.points.forEach((p, k) => {
      if (all > MOST && !map.getBounds().contains(flip(p))) { return; }
      corner(one, ring, k);
      if (all <= MOST) { between(one, ring, k); }
    });
  }
  whole(one);
}

/* The lists of positions in a geometry, with the way to put one back. */
function lists(geometry) {
  const found = [], closed = geometry.type.endsWith("Polygon");
  const walk = (nest, path) => {
    if (typeof nest[0][0] === "number") {
      found.push({points: closed ? nest.slice(0, -1) : nest, path, closed});
    } else { nest.forEach((inner, k) => walk(inner, [...path, k])); }
  };
  walk(geometry.coordinates, []);
  return found;
}

function withList(geometry, path, points, closed) {
  const made = closed ? [...points, points[0]] : points;
  const set = (nest, way) => way.length
    ? nest.map((inner, k) => k === way[0] ? set(inner, way.slice(1)) : inner) : made;
  return {...geometry, coordinates: set(geometry.coordinates, path)};
}

function handle(at, kind, title, moved, more = {}) {
  const mark = L.marker(at, {
    draggable: true, keyboard: true, autoPan: true, title, alt: title, zIndexOffset: 900,
    icon: L.divIcon({className: "handle " + kind, html: make("i"), iconSize: [44, 44]}),
  }).addTo(group);
  mark.on("drag", () => marks.show(moved(mark.getLatLng())));
  mark.on("dragend", () => {
    const made = moved(mark.getLatLng());
    doc.put(more.says || "moved " + name(made), made);
  });
  mark.on("click", (event) => L.DomEvent.stop(event));
  const it = mark.getElement();
  it.setAttribute("aria-label", title);
  it.addEventListener("keydown", (event) => {
    const way = WAYS[event.key];
    if (way) {
      const far = event.shiftKey ? FAST_M : STEP_M, now = mark.getLatLng();
      const to = shifted([now.lat, now.lng], way[0] * far, way[1] * far);
      const order = [...document.querySelectorAll(".handle")].indexOf(it);
      const made = moved({lat: to[0], lng: to[1]});
      doc.put(more.says || "moved " + name(made), made, "keys" + title);
      document.querySelectorAll(".handle")[order]?.focus();
    } else if ((event.key === "Delete" || event.key === "Backspace") && more.drop) {
      more.drop();
    } else { return; }
    event.preventDefault();
    event.stopPropagation();
  });
  return mark;
}

function point(one, role) {
  const at = flip(one.geometry.coordinates);
  handle(at, "ring", "move " + name(one), (to) =>
    ({...doc.feature(one.id), geometry: {type: "Point", coordinates: back(to)}}));
  if (role === "tree") {
    const edge = shifted(at, Number(one.properties.radius_m) || 1, 0);
    const apart = map.latLngToLayerPoint(edge).x - map.latLngToLayerPoint(at).x;
    const shown = map.layerPointToLatLng(map.latLngToLayerPoint(at).add([Math.max(apart, 26), 0]));
    const off = Math.max(0, map.distance(at, shown) - (Number(one.properties.radius_m) || 1));
    handle(shown, "square", "widen the crown", (to) => {
      const radius = Math.max(0.2, map.distance(at, to) - off);
      return {...one, properties: {...one.properties, radius_m: Math.round(radius * 10) / 10}};
    }, {says: "widened " + name(one)});
  }
}

function corner(one, ring, k) {
  const least = ring.closed ? 3 : 2;
  const placed = (to) => ({...one, geometry: withList(one.geometry, ring.path,
    ring.points.map((p, i) => i === k ? back(to) : p), ring.closed)});
  const drop = () => {
    if (ring.points.length <= least) { return; }
    const left = ring.points.filter((_, i) => i !== k);
    const made = {...one, geometry: withList(one.geometry, ring.path, left, ring.closed)};
    const per = one.properties.height_m;
    if (Array.isArray(per)) {
      made.properties = {...one.properties, height_m: per.filter((_, i) => i !== k)};
    }
    doc.put("took a corner of " + name(one), made);
  };
  const title = "corner " + (k + 1) + " of " + ring.points.length;
  handle(flip(ring.points[k]), "square", title, placed, {drop, says: "reshaped " + name(one)})
    .on("dblclick", drop);
}

function between(one, ring, k) {
  if (!ring.closed && k === ring.points.length - 1) { return; }
  const a = ring.points[k], b = ring.points[(k + 1) % ring.points.length];
  const at = [(a[1] + b[1]) / 2, (a[0] + b[0]) / 2];
  const pixels = map.latLngToLayerPoint(flip(a)).distanceTo(map.latLngToLayerPoint(flip(b)));
  if (pixels < 90) { return; }
  const placed = (to) => {
    const made = {...one, geometry: withList(one.geometry, ring.path,
      [...ring.points.slice(0, k + 1), back(to), ...ring.points.slice(k + 1)], ring.closed)};
    const per = one.properties.height_m;
    if (Array.isArray(per)) {
      const mean = (per[k] + per[(k + 1) % per.length]) / 2;
      made.properties = {...one.properties,
        height_m: [...per.slice(0, k + 1), mean, ...per.slice(k + 1)]};
    }
    return made;
  };
  handle(at, "small", "a new corner after " + (k + 1), placed,
    {says: "added a corner to " + name(one)});
}

function whole(one) {
  const at = marks.middle(one), from = map.latLngToLayerPoint(at);
  const shown = map.layerPointToLatLng(from.add(one.geometry.type === "LineString" ? [0, -40] : [0, 0]));
  const start = {lat: shown.lat ?? shown[0], lng: shown.lng ?? shown[1]};
  handle(shown, "all", "move all of " + name(one), (to) => {
    const east = to.lng - start.lng, north = to.lat - start.lat;
    const move = (nest) => typeof nest[0] === "number"
      ? [seven(nest[0] + east), seven(nest[1] + north)] : nest.map(move);
    return {...one, geometry: {...one.geometry, coordinates: move(one.geometry.coordinates)}};
  });
}

map.on("zoomend moveend", () => { if (!group.getLayers().some((m) => m.dragging?._draggable?._moving)) { refresh(); } });
