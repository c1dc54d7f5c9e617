"use strict";
// Every name on the live map comes from this block and is set as text, never as markup.
var shotplanWords = JSON.parse(document.getElementById("words").textContent);

function shotplanPut(parent, tag, text, name) {
  var made = document.createElement(tag);
  if (text) { made.textContent = text; }
  if (name) { made.className = name; }
  parent.appendChild(made);
  return made;
}

function shotplanMetres(value) {
  return value === null ? "unknown" : value.toFixed(1) + " m";
}

// A row of a shot, its values by the names of the columns.
function shotplanRow(shot, index) {
  var row = {};
  shotplanWords.columns.forEach(function (name, k) { row[name] = shot.rows[index][k]; });
  row.word = shotplanWords.verdicts[row.verdict];
  ["seen", "nearest", "binds"].forEach(function (name) { row[name] = shot.says[row[name]]; });
  return row;
}

function shotplanAt(east, north) {
  return L.latLng(shotplanWords.origin[1] + north / 1e7, shotplanWords.origin[0] + east / 1e7);
}

function shotplanNearest(shot, latlng) {
  var best = 0, least = Infinity, squeeze = Math.cos(latlng.lat * Math.PI / 180);
  shot.rows.forEach(function (row, index) {
    var at = shotplanAt(row[2], row[3]);
    var east = (at.lng - latlng.lng) * squeeze, north = at.lat - latlng.lat;
    var away = east * east + north * north;
    if (away < least) { least = away; best = index; }
  });
  return best;
}

function shotplanSample(shot, index) {
  var row = shotplanRow(shot, index);
  var rows = [
    ["verdict", row.word],
    ["what binds", row.binds],
    ["when", row.t.toFixed(1) + " s, " + row.along.toFixed(0) + " m along the ride"],
    ["height", shotplanMetres(row.height) + " above the ground below"],
    ["nearest ground", shotplanMetres(row.surface)],
    ["above launch", shotplanMetres(row.above_launch)]
  ];
  if (row.blind) { rows.push(["blind", "it does not sense the way it flies"]); }
  return {title: shot.title, rows: rows};
}

var shotplanRanks = ["pin-no-go", "pin-unknown", "pin-caution", "start", "launch", "call", "stand", "metre",
  "place"];
var shotplanAway = [12, 26, 44, 66, 92, 125], shotplanTurns = [-90, -45, -135, 0, 180, 45,
  135, 90, -68, -112, -22, -158, 22, 158, 68, 112];

function shotplanMark(feature, layer, info) {
  var look = layer.options.icon.options.className.replace("mark ", "");
  var inside = document.createElement("div");
  var named = info && (look === "launch" || look === "stand" || look === "place");
  layer.shotplanLook = look;
  layer.shotplanRank = shotplanRanks.indexOf(look);
  shotplanPut(inside, "i");
  shotplanPut(inside, "span", (named && info[0]) || feature.properties.tag || "");
  layer.setZIndexOffset(look.indexOf("pin-") === 0 ? 1000 : ({start: 500, elevation: -500}[look] || 0));
  if (feature.properties.near) { look += " near"; }
  layer.setIcon(L.divIcon({className: "mark " + look, html: inside, iconSize: null}));
}

// What a tag at `box` would hide: other tags first, then the rim of the map, then the flights.
function shotplanCost(box, taken, lines, size) {
  var cost = 0, covered = 0;
  taken.forEach(function (t) {
    if (box[0] < t[2] && box[2] > t[0] && box[1] < t[3] && box[3] > t[1]) { cost += 1000; }
  });
  if (box[0] < 0 || box[1] < 0 || box[2] > size.x || box[3] > size.y) { cost += 400; }
  lines.forEach(function (p) {
    if (p.x > box[0] && p.x < box[2] && p.y > box[1] && p.y < box[3]) { covered += 1; }
  });
  return cost + 6 * Math.min(covered, 20);
}

function shotplanPlace(mark, taken, lines, size) {
  var half = [mark.span.offsetWidth / 2 + 1, mark.span.offsetHeight / 2 + 1];
  var best = null, least = Infinity, along = mark.look === "metre";
  shotplanAway.slice(0, along ? 2 : 6).forEach(function (away) {
    shotplanTurns.forEach(function (turn) {
      var angle = turn * Math.PI / 180;
      var x = Math.cos(angle) * (away + half[0]), y = Math.sin(angle) * (away + half[1]);
      var at = [mark.at.x + x, mark.at.y + y];
      var box = [at[0] - half[0], at[1] - half[1], at[0] + half[0], at[1] + half[1]];
      var cost = away + shotplanCost(box, taken, lines, size);
      if (cost < least) { least = cost; best = {x: x, y: y, box: box}; }
    });
  });
  mark.span.style.visibility = along && least >= 1000 ? "hidden" : "";
  mark.line.style.visibility = mark.span.style.visibility;
  if (mark.span.style.visibility) { return; }
  taken.push(best.box);
  mark.span.style.transform = "translate(-50%, -50%) translate(" + best.x + "px, " + best.y + "px)";
  mark.line.style.width = Math.hypot(best.x, best.y) + "px";
  mark.line.style.transform = "rotate(" + Math.atan2(best.y, best.x) + "rad)";
}

// Tags are moved apart where they would lie on each other; a line leads back to the place.
function shotplanApart(map) {
  var marks = [], lines = [], taken = [], size = map.getSize();
  var within = L.bounds([-40, -40], [size.x + 40, size.y + 40]);
  map.eachLayer(function (layer) {
    if (!(layer.shotplanRank >= 0) || !layer.getElement()) { return; }
    var mark = {
      rank: layer.shotplanRank, look: shotplanRanks[layer.shotplanRank],
      at: map.latLngToContainerPoint(layer.getLatLng()),
      span: layer.getElement().querySelector("span"), line: layer.getElement().querySelector("i")
    };
    if (mark.span.offsetWidth && within.contains(mark.at)) { marks.push(mark); }
  });
  shotplanWords.shots.forEach(function (shot) {
    shot.rows.forEach(function (row, index) {
      if (index % 2 === 0) { lines.push(map.latLngToContainerPoint(shotplanAt(row[2], row[3]))); }
    });
  });
  var frame = map.getContainer().getBoundingClientRect();
  document.querySelectorAll("#air, .leaflet-control").forEach(function (fixed) {
    var it = fixed.getBoundingClientRect();
    var open = fixed.classList.contains("leaflet-control-layers-expanded");
    taken.push([open ? it.right - frame.left - 50 : it.left - frame.left, it.top - frame.top,
      it.right - frame.left, open ? it.top - frame.top + 50 : it.bottom - frame.top]);
  });
  marks.sort(function (a, b) { return a.rank - b.rank; });
  marks.forEach(function (mark) { shotplanPlace(mark, taken, lines, size); });
}

// The finding whose tag is first on a pin: its shot and number; null where it is none.
function shotplanFind(tag) {
  var found = null, first = (tag || "").split(",")[0];
  shotplanWords.finds.forEach(function (all, shot) {
    all.forEach(function (one, index) {
      if (one.tag && one.tag === first) { found = {shot: shot, index: index}; }
    });
  });
  return found;
}

// What a tap on a layer tells; null where there is nothing to tell.
function shotplanTap(told, info, layer) {
  var found = shotplanFind(told.tag);
  if (found) { return function () { shotplanSheet.find(found.shot, found.index); }; }
  if (told.shot !== undefined) {
    return function (e) {
      var shot = shotplanWords.shots[told.shot], index = shotplanNearest(shot, e.latlng);
      layer._map.fire("shotplan:tap", {shot: told.shot, index: index});
      shotplanSheet.open(shotplanSample(shot, index), e.latlng);
    };
  }
  return info && function (e) {
    shotplanSheet.open({title: info[0], rows: info[1]}, layer.getLatLng ? layer.getLatLng() : e.latlng);
  };
}

function shotplanEach(feature, layer) {
  var told = feature.properties;
  var info = told.i === undefined ? null : shotplanWords.infos[told.i];
  if (told.r !== undefined) { layer.setRadius(told.r); }
  if (told.of !== undefined) { layer.shotplanOf = told.of; }
  if (layer.setIcon) { shotplanMark(feature, layer, info); }
  var tap = shotplanTap(told, info, layer);
  if (tap) { layer.on("click", tap); } else { layer.options.interactive = false; }
}

// At first sight only the marks that matter most are shown; the others from nearer.
L.Map.addInitHook(function () {
  var map = this, first = null;
  function far() {
    map.getContainer().classList.toggle("far", first === null || map.getZoom() < first + 0.75);
  }
  function again() { far(); shotplanApart(map); }
  map.on("zoomend resize overlayadd overlayremove", again);
  addEventListener("load", function () {
    shotplanShots.closer();
    first = map.getZoom();
    again();
    // A tap on a label counts as two clicks, which the map would take for a double tap.
    document.querySelectorAll(".leaflet-control").forEach(function (control) {
      L.DomEvent.on(control, "click", L.DomEvent.stopPropagation);
    });
  });
  // A sheet that is shown again goes back to its place between the others.
  map.on("overlayadd", function () {
    shotplanSheets.forEach(function (sheet) {
      if (map.hasLayer(sheet)) { sheet.bringToFront(); }
    });
  });
});

// What lies folded is printed too, but for how each number came about.
(function () {
  var opened = [];
  addEventListener("beforeprint", function () {
    opened = Array.from(document.querySelectorAll("details:not([open]):not(.small)"));
    opened.forEach(function (it) { it.open = true; });
  });
  addEventListener("afterprint", function () {
    opened.forEach(function (it) { it.open = false; });
  });
}());

// The layer list is handed numbers; the titles are put in as text.
var shotplanSheets = [];
(function () {
  var add = L.Control.Layers.prototype._addItem;
  L.Control.Layers.include({
    _addItem: function (item) {
      if (shotplanSheets.indexOf(item.layer) < 0) { shotplanSheets.push(item.layer); }
      var label = add.call(this, item);
      var index = Number(item.name.replace("sheet ", ""));
      label.querySelector("span > span").textContent = " " + shotplanWords.titles[index];
      return label;
    }
  });
}());
