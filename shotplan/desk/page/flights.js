/* The flights on the map, coloured by their words: by colour and by form. */
import {along, label, map, tidy} from "./map.js";
import {drawing} from "./dom.js";

const L = window.L;
const svg = L.svg({pane: "flights", padding: 0.4});
const group = L.layerGroup().addTo(map);
const COLOURS = {go: "#2f86b7", caution: "#f0b429", unknown: "#1d2125", "no-go": "#b3184f"};
const CROSS_PX = 15, HALF_PX = 3.5;
let shown = [];

/* `shots`: [{letter, chosen, word}], the chosen one last and full. */
export function show(shots) {
  shown = shots;
  paint();
}

function paint() {
  group.clearLayers();
  tidy();
  const rows = [...shown].sort((a, b) => a.chosen - b.chosen);
  for (const one of rows) {
    const opacity = one.chosen ? 1 : 0.45;
    for (const run of one.word.flies) { stroke(run, opacity); }
    const flies = one.word.flies.map((run) => run.line).flat();
    if (flies.length) {
      label(flies[0], one.letter, "disc" + (one.chosen ? "" : " pale")).addTo(group);
      head(flies, opacity);
    }
    if (one.chosen) {
      for (const mark of one.word.marks) {
        label(mark.at, mark.word === "no-go" ? "✕" : "!", "tight " + mark.word).addTo(group);
      }
      if (one.eye) { eye(one.eye); }
    }
  }
}

function stroke(run, opacity) {
  const base = {renderer: svg, interactive: false, opacity, lineCap: "butt"};
  L.polyline(run.line, {...base, color: "#1d2125", weight: 10}).addTo(group);
  L.polyline(run.line, {...base, color: COLOURS[run.word], weight: 7}).addTo(group);
  if (run.word === "caution") {
    L.polyline(run.line, {...base, color: "#1d2125", weight: 7, dashArray: "4 8"}).addTo(group);
  } else if (run.word === "unknown") {
    L.polyline(run.line, {...base, color: "#fff", weight: 4, lineCap: "round",
      dashArray: "0.1 9"}).addTo(group);
  } else if (run.word === "no-go") {
    L.polyline(crosses(run.line), {...base, color: "#fff", weight: 2}).addTo(group);
  }
}

/* Two strokes every so many pixels along a line. */
function crosses(line) {
  const points = line.map((p) => map.latLngToLayerPoint(p)), found = [];
  let left = CROSS_PX / 2;
  for (let k = 1; k < points.length; k += 1) {
    const a = points[k - 1], way = points[k].subtract(a), long = Math.hypot(way.x, way.y);
    for (; left < long; left += CROSS_PX) {
      const c = a.add(way.multiplyBy(left / long));
      for (const s of [1, -1]) {
        found.push([[c.x - HALF_PX, c.y - s * HALF_PX], [c.x + HALF_PX, c.y + s * HALF_PX]]
          .map((p) => map.layerPointToLatLng(p)));
      }
    }
    left -= long;
  }
  return found;
}

function turned(at, deg, paths, size) {
  const made = drawing(paths, "-12 -12 24 24");
  made.setAttribute("class", "turned");
  for (const path of made.children) { path.setAttribute("transform", "rotate(" + deg + ")"); }
  L.marker(at, {pane: "labels", interactive: false, keyboard: false,
    icon: L.divIcon({className: "head", html: made, iconSize: [size, size]})}).addTo(group);
}

function head(line, opacity) {
  const b = line[line.length - 1];
  let k = line.length - 2;
  while (k > 0 && map.distance(line[k], b) < 2) { k -= 1; }
  const a = line[Math.max(k, 0)];
  const turn = Math.atan2((b[1] - a[1]) * Math.cos(a[0] * Math.PI / 180), b[0] - a[0]);
  turned(b, turn * 180 / Math.PI, [["M0 -9 8 7 -8 7Z", opacity < 1 ? "end pale" : "end"]], 24);
}

function eye(one) {
  turned(one.at, one.looks_deg, [["M0 0-7 -11M0 0 7 -11", "view"], ["M0 -8 6 7 -6 7Z", "craft"]], 34);
}

map.on("zoomend", paint);
export const metre = along;
