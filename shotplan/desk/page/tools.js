/* The tools, and drawing with them: by tapping, or by a cross in the middle of the map. */
import * as doc from "./doc.js";
import {byId, fill, make} from "./dom.js";
import {icon} from "./marks.js";
import {map, seven} from "./map.js";

const L = window.L;
const LEAST = {point: 1, line: 2, area: 3};
let tool = "pick", points = [], draft = null, day = "", onMade = () => {}, onTool = () => {};

/* The day of the flight: what was seen after it was not seen for it. */
export const before = (said) => { day = said; };
export const listen = (made, chosen) => { onMade = made; onTool = chosen; };

function rows() {
  const forms = doc.allForms();
  return [
    {name: "pick", word: "pick, move", key: "V"},
    {name: "launch", word: "launch", key: "H"},
    ...Object.entries(forms).map(([name, one]) => ({name, word: one.word, key: one.tool})),
  ];
}

export function showTools() {
  fill(byId("tools"), ...rows().map((one) => make("button", {
    type: "button", id: "tool-" + one.name, "aria-pressed": String(tool === one.name),
    "aria-keyshortcuts": one.key, onclick: () => choose(one.name),
  }, make("kbd", {}, one.key), icon(one.name), make("span", {}, one.word))));
}

export function choose(name) {
  tool = name;
  points = [];
  for (const button of byId("tools").children) {
    button.setAttribute("aria-pressed", String(button.id === "tool-" + name));
  }
  show();
  onTool(name);
}

export function byKey(key) {
  const found = rows().find((one) => one.key === key.toUpperCase());
  if (found) { choose(found.name); byId("map").focus(); }
  return Boolean(found);
}

const kind = () => tool === "launch" ? "point" : doc.formOf(tool)?.drawn;
export const drawing = () => tool !== "pick" && kind() !== undefined;

/* The line as far as it is drawn, and what can be done with it. */
function show() {
  byId("cross").hidden = !drawing();
  byId("drawing").hidden = !drawing();
  if (draft) { draft.remove(); draft = null; }
  if (!drawing()) { return; }
  if (points.length) {
    const style = {color: "#1d2125", weight: 3, dashArray: "6 5", interactive: false,
      pane: "flights"};
    const line = kind() === "area" && points.length > 2 ? L.polygon(points, {...style, fill: false})
      : L.polyline(points, style);
    draft = L.layerGroup([line, ...points.map((at) => L.circleMarker(at, {radius: 5, weight: 2,
      color: "#1d2125", fillColor: "#fff", fillOpacity: 1, interactive: false,
      pane: "flights"}))]).addTo(map);
  }
  const many = kind() !== "point", left = LEAST[kind()] - points.length;
  const word = tool === "launch" ? "launch" : doc.formOf(tool).word;
  const hint = many && left > 0 ? word + ": tap " + (points.length ? left + " more" : "the corners")
    : many ? word + ": tap on, or done" : word + ": tap where it stands";
  fill(byId("drawing"),
    make("span", {role: "status"}, hint),
    make("button", {type: "button", id: "put", onclick: putHere}, "put at the cross"),
    many ? make("button", {type: "button", id: "back", disabled: !points.length, onclick: back},
      "take back") : null,
    many ? make("button", {type: "button", id: "done", class: "dark", disabled: left > 0,
      onclick: finish}, "done") : null,
    make("button", {type: "button", id: "cancel", onclick: cancel}, "cancel"));
}

export function putHere() { tap(map.getCenter()); }

export function tap(at) {
  if (!drawing()) { return; }
  points.push([at.lat, at.lng]);
  if (kind() === "point") { finish(); } else { show(); }
}

export function back() {
  points.pop();
  show();
}

export function cancel() {
  if (points.length) { points = []; show(); } else { choose("pick"); }
}

export function finish() {
  if (!drawing() || points.length < LEAST[kind()]) { return; }
  const at = points.map((p) => [seven(p[1]), seven(p[0])]);
  const geometry = kind() === "point" ? {type: "Point", coordinates: at[0]}
    : kind() === "line" ? {type: "LineString", coordinates: at}
    : {type: "Polygon", coordinates: [[...at, at[0]]]};
  const role = tool === "launch" ? "place" : tool;
  const begins = doc.formOf(role).new;
  const old = tool === "launch" ? doc.feature("launch") : null;
  const made = old ? {...old, geometry} : {
    id: tool === "launch" ? "launch" : doc.fresh(role),
    properties: {role, ...begins, ...(role === "place" || !day || today() > day ? {} : {on: today()})}, geometry,
  };
  points = [];
  choose("pick");
  onMade(made, old ? "moved the launch" : "drew " + doc.formOf(role).word);
}

const today = () => {
  const now = new Date();
  return [now.getFullYear(), now.getMonth() + 1, now.getDate()]
    .map((part) => String(part).padStart(2, "0")).join("-");
};
