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

var shotplanRank = {call: 2, "pin-no-go": 3, "pin-unknown": 3.1, "pin-caution": 3.2, start: 4, metre: 9};
var shotplanSigns = {"pin-no-go": "×", "pin-unknown": "?", "pin-caution": "!"};

// A mark at a point: its line, and its tag, which `placing.js` puts where there is room.
function shotplanMark(feature, layer, info) {
  var look = layer.options.icon.options.className.replace("mark ", "");
  var inside = document.createElement("div"), tag = feature.properties.tag || "";
  layer.shotplanLook = look;
  layer.shotplanRank = shotplanRank[look] || info[3];
  shotplanPut(inside, "i");
  var span = shotplanPut(inside, "span");
  if (shotplanSigns[look]) { shotplanPut(span, "b", shotplanSigns[look]); }
  if (info && info[2]) { layer.shotplanText = info[2]; }
  span.appendChild(document.createTextNode((info && info[2]) || tag));
  layer.setZIndexOffset(look.indexOf("pin-") === 0 ? 1000 : ({start: 500, call: 700}[look] || 0));
  layer.setIcon(L.divIcon({className: "mark " + look + (feature.properties.near ? " near" : ""),
    html: inside, iconSize: null}));
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
  if (layer.setIcon) { shotplanMark(feature, layer, info); } else { shotplanLine(layer, info); }
  var tap = shotplanTap(told, info, layer);
  if (tap) { layer.on("click", tap); } else { layer.options.interactive = false; }
}

// What is drawn anew at every scale: flights side by side, crosses, names, height figures.
function shotplanLine(layer, info) {
  var look = layer.options.className || "";
  if (info && info[2]) { layer.shotplanName = {text: info[2], rank: info[3], look: look}; }
  if (look === "contour-fifth") {
    layer.shotplanName = {text: info[1][0][1].replace(" m", ""), rank: 10, look: look};
  }
  if (layer.shotplanOf !== undefined) { shotplanAside(layer); }
  if (look === "track-no-go") { shotplanCrosses(layer); }
}

// At first sight only the marks that matter most are shown; the others from nearer.
L.Map.addInitHook(function () {
  var map = this, first = null, SOME_CALLS = 4;
  function far() {
    map.getContainer().classList.toggle("far", first === null || map.getZoom() < first + 0.75);
  }
  // On a narrow map that shows all shots the calls of each are shown when it is chosen.
  function crowded() {
    var many = map.getContainer().querySelectorAll(".call").length > SOME_CALLS;
    map.getContainer().classList.toggle("crowded",
      many && map.getSize().x < 500 && shotplanShots.chosen() < 0);
  }
  function again() { far(); crowded(); shotplanApart(map); }
  map.on("moveend zoomend resize overlayadd overlayremove shotplan:chosen", again);
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
