// A tap on a row shows that shot alone, the others pale; another tap shows all again.
var shotplanShots = (function () {
  var rows = Array.from(document.querySelectorAll("#shots a")), map = null, chosen = -1;

  function paint(layer) {
    var of = layer.shotplanOf, it = of !== undefined && layer.getElement && layer.getElement();
    if (it) { it.classList.toggle("pale", chosen >= 0 && of !== chosen); }
  }

  // What of the map no flight may lie under: pixels from its upper left corner.
  function covered() {
    var frame = map.getContainer().getBoundingClientRect();
    return Array.from(document.querySelectorAll("#air, #live .leaflet-control")).map(function (c) {
      var it = c.getBoundingClientRect();
      return L.bounds([it.left - frame.left - 8, it.top - frame.top - 8],
        [it.right - frame.left + 8, it.bottom - frame.top + 8]);
    }).filter(function (b) { return b.getSize().x > 16; });
  }

  // The nearest view that holds all points, none of them under a control: of the ways to keep
  // clear of the corners (beside, above or below them) the one that leaves the map largest.
  function fit(points) {
    var size = map.getSize(), boxes = covered(), bounds = L.latLngBounds(points), best = null;
    var left = 0, right = 0, above = 0, below = 0;
    boxes.forEach(function (b) {
      if (b.min.x < size.x / 2) { left = Math.max(left, b.max.x); } else { right = Math.max(right, size.x - b.min.x); }
      if (b.min.y < size.y / 2) { above = Math.max(above, b.max.y); } else { below = Math.max(below, size.y - b.min.y); }
    });
    for (var way = 0; way < 16; way += 1) {
      var low = [24 + (way & 1 ? left : 0), 24 + (way & 2 ? above : 0)];
      var high = [24 + (way & 4 ? right : 0), 24 + (way & 8 ? below : 0)];
      if (low[0] + high[0] > 0.8 * size.x || low[1] + high[1] > 0.8 * size.y) { continue; }
      var zoom = Math.min(map.getBoundsZoom(bounds, false, L.point(low[0] + high[0], low[1] + high[1])), 20.5);
      var north_west = map.project(bounds.getNorthWest(), zoom), south_east = map.project(bounds.getSouthEast(), zoom);
      var room = L.point(size.x - low[0] - high[0], size.y - low[1] - high[1]);
      var corner = north_west.add(south_east.subtract(north_west).subtract(room).divideBy(2)).subtract(low);
      var under = points.filter(function (p) {
        var at = map.project(p, zoom).subtract(corner);
        return boxes.some(function (b) { return b.contains(at); });
      }).length;
      var worth = zoom - 0.02 * Math.min(under, 100);
      if (best === null || worth > best.worth + 1e-9) {
        best = {worth: worth, zoom: zoom, at: map.unproject(corner.add(size.divideBy(2)), zoom)};
      }
    }
    if (best) { map.setView(best.at, best.zoom, {animate: false}); }
  }

  function flight(index) {
    return shotplanWords.shots[index].rows.map(function (row) { return shotplanAt(row[2], row[3]); });
  }

  // All flights, or the chosen one; who stands near them too, where that costs little.
  function closer() {
    if (!map) { return; }
    var points = [];
    shotplanWords.shots.forEach(function (_, index) {
      if (chosen < 0 || chosen === index) { points = points.concat(flight(index)); }
    });
    if (!points.length) { return; }
    var more = [], box = L.latLngBounds(points);
    map.eachLayer(function (layer) {
      var of = layer.shotplanOf;
      if (["launch", "stand", "call"].indexOf(layer.shotplanLook) >= 0 && (of === undefined || chosen < 0 || of === chosen)) {
        more.push(layer.getLatLng());
      }
    });
    var zoom = map.getBoundsZoom(box), all = L.latLngBounds(points.concat(more));
    fit(zoom - map.getBoundsZoom(all) < 1 ? points.concat(more) : points);
  }

  function choose(index) {
    chosen = index;
    document.documentElement.classList.toggle("chosen", index >= 0);
    rows.forEach(function (row, k) { row.setAttribute("aria-pressed", String(k === index)); });
    if (!map) { return; }
    map.invalidateSize({animate: false, pan: false});
    map.eachLayer(paint);
    map.fire("shotplan:chosen", {shot: index});
  }

  rows.forEach(function (row, index) {
    row.addEventListener("click", function (e) {
      if (!map || !document.documentElement.classList.contains("live")) { return; }
      e.preventDefault();
      shotplanSheet.close();
      choose(chosen === index ? -1 : index);
      closer();
    });
  });

  L.Map.addInitHook(function () {
    map = this;
    rows.forEach(function (row) { row.setAttribute("role", "button"); });
    map.on("layeradd", function (e) { paint(e.layer); });
    map.on("shotplan:chosen", function (e) { chosen = e.shot; });
    var Fit = L.Control.extend({options: {position: "bottomright"}, onAdd: function () {
      var box = L.DomUtil.create("div", "leaflet-bar"), button = shotplanPut(box, "a", "fit");
      button.href = "#top";
      button.setAttribute("role", "button");
      button.id = "fit";
      button.title = "all flights on the screen";
      L.DomEvent.on(button, "click", function (e) { L.DomEvent.stop(e); closer(); });
      L.DomEvent.disableClickPropagation(box);
      return box;
    }});
    new Fit().addTo(map);
    new ResizeObserver(function () { map.invalidateSize({animate: false, pan: false}); })
      .observe(map.getContainer());
  });
  return {choose: choose, closer: closer, chosen: function () { return chosen; }};
}());

// Which part of the page is on the screen.
(function () {
  var links = Array.from(document.querySelectorAll("#bar a"));
  function mark() {
    var on = 0;
    links.forEach(function (link, k) {
      var part = document.querySelector(link.getAttribute("href"));
      if (part && part.offsetParent !== null && part.getBoundingClientRect().top < innerHeight / 2) { on = k; }
    });
    links.forEach(function (link, k) { link.setAttribute("aria-current", String(k === on)); });
  }
  addEventListener("scroll", mark, {passive: true});
  addEventListener("load", mark);
  links.forEach(function (link) {
    link.addEventListener("click", shotplanSheet.close);
  });
}());
