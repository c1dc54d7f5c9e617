// Two flights on one line are drawn side by side: the later one is moved until 4 px of ground lie
// between them, to the same side all along. Only the drawing is moved, at every scale anew.
var shotplanApartPx = 16, shotplanMoved = {};

// Per shot and row, how far it is moved, in pixels.
function shotplanShifts(map) {
  var key = map.getZoom();
  if (shotplanMoved.zoom === key) { return shotplanMoved.by; }
  var earlier = [], by = shotplanWords.shots.map(function (shot) {
    var path = shot.rows.map(function (row) { return map.project(shotplanAt(row[2], row[3])); });
    var found = shotplanBeside(path, earlier);
    path.forEach(function (p, i) {
      earlier.push({x: p.x + found[i].x, y: p.y + found[i].y, along: i > 0, first: i === 0});
    });
    return found;
  });
  shotplanMoved = {zoom: key, by: by};
  return by;
}

// The nearest point of earlier flights to `p`, and the way that flight goes there.
function shotplanNear(p, earlier) {
  var best = -1, least = 4 * shotplanApartPx * shotplanApartPx;
  earlier.forEach(function (q, k) {
    var away = (p.x - q.x) * (p.x - q.x) + (p.y - q.y) * (p.y - q.y);
    if (away < least) { least = away; best = k; }
  });
  if (best < 0) { return null; }
  var a = earlier[best].first ? earlier[best] : earlier[best - 1];
  var b = earlier[best].first ? earlier[best + 1] || a : earlier[best];
  var long = Math.hypot(b.x - a.x, b.y - a.y) || 1;
  var left = {x: (b.y - a.y) / long, y: -(b.x - a.x) / long};
  var q = earlier[best];
  return {left: left, off: (p.x - q.x) * left.x + (p.y - q.y) * left.y, away: Math.sqrt(least)};
}

function shotplanBeside(path, earlier) {
  var none = path.map(function () { return {x: 0, y: 0}; });
  if (!earlier.length) { return none; }
  var near = path.map(function (p) { return shotplanNear(p, earlier); });
  var close = near.map(function (n) { return n !== null && n.away < shotplanApartPx; });
  var side = 0, low = 0, long = 0;
  near.forEach(function (n, i) { if (close[i]) { side += n.off >= -0.5 ? 1 : -1; } });
  side = side >= 0 ? 1 : -1;
  // A mere crossing is none: only what runs along together is moved.
  for (var i = 1; i <= path.length; i += 1) {
    if (i < path.length && close[i] === close[low]) {
      long += Math.hypot(path[i].x - path[i - 1].x, path[i].y - path[i - 1].y);
      continue;
    }
    if (long < 3 * shotplanApartPx) { for (var k = low; k < i; k += 1) { close[k] = false; } }
    low = i;
    long = 0;
  }
  var found = near.map(function (n, k) {
    if (!close[k]) { return {x: 0, y: 0}; }
    var more = Math.min(Math.max(shotplanApartPx - side * n.off, 0), 1.5 * shotplanApartPx);
    return {x: side * more * n.left.x, y: side * more * n.left.y};
  });
  return shotplanCalm(shotplanCalm(found));
}

function shotplanCalm(all) {
  return all.map(function (_, i) {
    var x = 0, y = 0, count = 0;
    for (var k = Math.max(0, i - 3); k <= Math.min(all.length - 1, i + 3); k += 1) {
      x += all[k].x;
      y += all[k].y;
      count += 1;
    }
    return {x: x / count, y: y / count};
  });
}

// How far the drawing of a shot is moved where it is nearest to a place.
function shotplanShift(map, of, latlng) {
  var shot = shotplanWords.shots[of];
  return shotplanShifts(map)[of][shotplanNearest(shot, latlng)];
}

// The head of an arrow where a shot ends, pointing the way it flies last: as large at every scale.
function shotplanEnd(map, of) {
  var moved = shotplanShifts(map)[of], rows = shotplanWords.shots[of].rows, last = rows.length - 1;
  function at(i) {
    return map.latLngToLayerPoint(shotplanAt(rows[i][2], rows[i][3])).add([moved[i].x, moved[i].y]);
  }
  var end = at(last), from = end;
  for (var i = last; i >= 0 && from.distanceTo(end) < 10; i -= 1) { from = at(i); }
  var long = from.distanceTo(end) || 1, on = end.subtract(from).divideBy(long);
  return [[16, 0], [-4, 7.5], [-4, -7.5]].map(function (c) {
    return end.add([c[0] * on.x - c[1] * on.y, c[0] * on.y + c[1] * on.x]);
  });
}

function shotplanAside(layer) {
  var project = layer._project;
  if (!layer.getLatLngs) { return; }
  if (layer.options.className === "end") {
    layer._project = function () {
      project.call(this);
      this._rings = [shotplanEnd(this._map, this.shotplanOf)];
    };
    return;
  }
  layer._project = function () {
    var map = this._map, of = this.shotplanOf, moved = shotplanShifts(map)[of];
    project.call(this);
    if (!moved || !moved.some(function (by) { return by.x || by.y; })) { return; }
    this._rings = this._rings.map(function (ring) {
      var fine = [];
      ring.forEach(function (p, i) {
        var before = ring[i - 1], steps = before ? Math.ceil(before.distanceTo(p) / 10) : 1;
        for (var k = 1; k <= steps; k += 1) {
          fine.push(before ? before.add(p.subtract(before).multiplyBy(k / steps)) : p);
        }
      });
      return fine.map(function (p) {
        var by = shotplanShift(map, of, map.layerPointToLatLng(p));
        return p.add([by.x, by.y]);
      });
    });
  };
}

// White crosses along a line that is no-go, 14 px apart at every scale.
function shotplanCrosses(layer) {
  var update = layer._updatePath, front = layer.bringToFront, crosses = null;
  function follow() {
    if (crosses && layer._path && layer._path.parentNode) {
      layer._path.parentNode.insertBefore(crosses, layer._path.nextSibling);
    }
  }
  layer.on("add", function () {
    crosses = document.createElementNS("http://www.w3.org/2000/svg", "path");
    crosses.setAttribute("class", "crosses");
    layer._updatePath();
  });
  layer.on("remove", function () { if (crosses) { crosses.remove(); } });
  layer.bringToFront = function () { front.call(this); follow(); return this; };
  layer._updatePath = function () {
    update.call(this);
    if (!crosses) { return; }
    var d = "", left = 7;
    (this._parts || []).forEach(function (part) {
      part.forEach(function (p, i) {
        if (i === 0) { left = 7; return; }
        var a = part[i - 1], long = a.distanceTo(p);
        while (left <= long) {
          var at = a.add(p.subtract(a).multiplyBy(long ? left / long : 0));
          d += "M" + (at.x - 3).toFixed(1) + " " + (at.y - 3).toFixed(1) + "l6 6m0 -6l-6 6";
          left += 14;
        }
        left -= long;
      });
    });
    crosses.setAttribute("d", d || "M0 0");
    follow();
  };
}
