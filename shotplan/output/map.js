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

function shotplanTold(title, rows) {
  var told = document.createElement("div");
  shotplanPut(told, "b", title);
  var list = shotplanPut(told, "dl");
  rows.forEach(function (row) {
    shotplanPut(list, "dt", row[0]);
    shotplanPut(list, "dd", row[1]);
  });
  return told;
}

function shotplanMetres(value) {
  return value === null ? "unknown" : value.toFixed(1) + " m";
}

function shotplanSample(shot, latlng) {
  var best = null, least = Infinity, squeeze = Math.cos(latlng.lat * Math.PI / 180);
  shot.rows.forEach(function (row) {
    var east = (row[0] - latlng.lng) * squeeze, north = row[1] - latlng.lat;
    var away = east * east + north * north;
    if (away < least) { least = away; best = row; }
  });
  var rows = [
    ["verdict", best[7]],
    ["what binds", best[9]],
    ["when", best[2].toFixed(1) + " s, " + best[3].toFixed(0) + " m along the ride"],
    ["height", shotplanMetres(best[4]) + " above the ground below"],
    ["nearest ground", shotplanMetres(best[5])],
    ["above launch", shotplanMetres(best[6])]
  ];
  if (best[8]) { rows.push(["blind", "it does not sense the way it flies"]); }
  return shotplanTold(shot.title, rows);
}

function shotplanMark(feature, layer, info) {
  var text = feature.properties.tag || (info ? info[0] : "");
  var inside = document.createElement("span");
  inside.textContent = text;
  layer.setZIndexOffset(layer.options.icon.options.className.indexOf("pin-") < 0 ? 0 : 1000);
  layer.setIcon(L.divIcon({
    className: layer.options.icon.options.className, html: inside, iconSize: null
  }));
}

function shotplanEach(feature, layer) {
  var told = feature.properties;
  var info = told.i === undefined ? null : shotplanWords.infos[told.i];
  if (told.r !== undefined) { layer.setRadius(told.r); }
  if (layer.setIcon) { shotplanMark(feature, layer, info); }
  if (told.shot !== undefined) {
    layer.on("click", function (e) {
      L.popup({maxWidth: 260}).setLatLng(e.latlng)
        .setContent(shotplanSample(shotplanWords.shots[told.shot], e.latlng)).openOn(layer._map);
    });
  } else if (info) {
    layer.bindPopup(function () { return shotplanTold(info[0], info[1]); }, {maxWidth: 260});
  } else {
    layer.options.interactive = false;
  }
}

// From afar a place is a mark without its name, so that flights are not hidden.
L.Map.addInitHook(function () {
  function far() { this.getContainer().classList.toggle("far", this.getZoom() < 18); }
  this.on("zoomend", far, this);
});

// The layer list is handed numbers; the titles are put in as text.
(function () {
  var add = L.Control.Layers.prototype._addItem;
  L.Control.Layers.include({
    _addItem: function (item) {
      var label = add.call(this, item);
      var index = Number(item.name.replace("sheet ", ""));
      label.querySelector("span > span").textContent = " " + shotplanWords.titles[index];
      return label;
    }
  });
}());
