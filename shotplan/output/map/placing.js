// Names and tags, first wins: a lower one moves round its point or along its line, then leaves.
// None covers a verdict line or lies under a control.
var shotplanAway = [12, 26, 44, 60, 92, 125], shotplanTurns = [-90, -45, -135, 0, 180, 45,
  135, 90, -68, -112, -22, -158, 22, 158, 68, 112];
var shotplanHold = 1000, shotplanHides = 400; // what it costs to lie on another, on a flight

// What lies on the map already: boxes (left, top, right, bottom) and points of verdict lines.
function shotplanTaken(map) {
  var taken = [], lines = [], frame = map.getContainer().getBoundingClientRect();
  document.querySelectorAll("#air, #live .leaflet-control").forEach(function (fixed) {
    var it = fixed.getBoundingClientRect();
    var open = fixed.classList.contains("leaflet-control-layers-expanded");
    taken.push([open ? it.right - frame.left - 50 : it.left - frame.left, it.top - frame.top,
      it.right - frame.left, open ? it.top - frame.top + 50 : it.bottom - frame.top]);
  });
  shotplanWords.shots.forEach(function (shot, of) {
    var moved = shotplanShifts(map)[of], before = null;
    shot.rows.forEach(function (row, index) {
      var p = map.latLngToContainerPoint(shotplanAt(row[2], row[3])).add([moved[index].x, moved[index].y]);
      var steps = before ? Math.min(Math.ceil(before.distanceTo(p) / 6), 60) : 1;
      for (var k = 1; k <= steps; k += 1) {
        lines.push(before ? before.add(p.subtract(before).multiplyBy(k / steps)) : p);
      }
      before = p;
    });
  });
  var size = map.getSize();
  lines = lines.filter(function (p) { return p.x > -20 && p.y > -20 && p.x < size.x + 20 && p.y < size.y + 20; });
  return {boxes: taken, lines: lines, size: size};
}

function shotplanCost(box, taken) {
  var cost = 0, size = taken.size, edge = 6;
  taken.boxes.forEach(function (t) {
    if (box[0] < t[2] && box[2] > t[0] && box[1] < t[3] && box[3] > t[1]) { cost += shotplanHold; }
  });
  if (box[0] < 0 || box[1] < 0 || box[2] > size.x || box[3] > size.y) { cost += shotplanHold; }
  if (taken.lines.some(function (p) {
    return p.x > box[0] - edge && p.x < box[2] + edge && p.y > box[1] - edge && p.y < box[3] + edge;
  })) { cost += shotplanHides; }
  return cost;
}

// What it costs that the line from a point to its field runs over other fields.
function shotplanCrossed(at, x, y, taken) {
  var cost = 0;
  taken.boxes.forEach(function (t) {
    var over = [0.3, 0.45, 0.6, 0.75].some(function (share) {
      var px = at.x + share * x, py = at.y + share * y;
      return px > t[0] && px < t[2] && py > t[1] && py < t[3];
    });
    if (over) { cost += 40; }
  });
  return cost;
}

// A place round a point for a box of half a width and height, out of the way by `least` at first.
function shotplanRound(at, half, aways, least, taken) {
  var best = null;
  aways.forEach(function (away) {
    shotplanTurns.forEach(function (turn) {
      var angle = turn * Math.PI / 180, out = away + least;
      var x = Math.cos(angle) * (out + half[0]), y = Math.sin(angle) * (out + half[1]);
      var box = [at.x + x - half[0], at.y + y - half[1], at.x + x + half[0], at.y + y + half[1]];
      if (best !== null && away >= best.cost) { return; }
      var cost = away + shotplanCost(box, taken) + shotplanCrossed(at, x, y, taken);
      if (best === null || cost < best.cost) { best = {cost: cost, x: x, y: y, box: box, away: away}; }
    });
  });
  return best;
}

// How long a line is from a point to the field that was put at `best`: it ends at its edge.
function shotplanLead(best, half) {
  var whole = Math.hypot(best.x, best.y);
  var inside = Math.min(half[0] / Math.max(Math.abs(best.x), 1e-6), half[1] / Math.max(Math.abs(best.y), 1e-6));
  return Math.max(0, whole * (1 - Math.min(inside, 1)));
}

// How far a tag may go from its point: a start must be seen, ride metres stay where they are.
function shotplanReach(rank) {
  if (rank >= 9) { return shotplanAway.slice(0, 1); }
  return shotplanAway.slice(0, rank === 4 ? 6 : rank === 3 ? 5 : 4);
}

function shotplanPlaceMark(mark, taken) {
  var best = null;
  // A long name that finds no room is tried again without who stands there.
  [mark.full, mark.full.split(":")[0]].some(function (text, again) {
    if (again && text === mark.full) { return true; }
    if (mark.named) { mark.span.textContent = text; }
    var half = [mark.span.offsetWidth / 2 + 1, mark.span.offsetHeight / 2 + 1];
    best = shotplanRound(mark.at, half, shotplanReach(mark.rank), mark.rank >= 9 ? -4 : 0, taken);
    best.half = half;
    return best.cost < shotplanHides || !mark.named;
  });
  var gone = best.cost >= shotplanHides;
  mark.span.style.visibility = gone ? "hidden" : "";
  mark.line.style.visibility = mark.span.style.visibility;
  mark.span.parentNode.style.transform = "translate(" + mark.by.x + "px, " + mark.by.y + "px)";
  if (gone) { return; }
  taken.boxes.push(best.box);
  mark.span.style.transform = "translate(-50%, -50%) translate(" + best.x + "px, " + best.y + "px)";
  mark.line.style.width = shotplanLead(best, mark.named ? best.half : [0, 0]) + "px";
  mark.line.style.transform = "rotate(" + Math.atan2(best.y, best.x) + "rad)";
}

function shotplanMarks(map, size) {
  var marks = [], within = L.bounds([-10, -10], [size.x + 10, size.y + 10]);
  map.eachLayer(function (layer) {
    if (!layer.shotplanLook || !layer.getElement()) { return; }
    var by = layer.shotplanOf === undefined || layer.shotplanLook === "call" ? {x: 0, y: 0} :
      shotplanShift(map, layer.shotplanOf, layer.getLatLng());
    var pale = layer.getElement().classList.contains("pale");
    var mark = {
      rank: layer.shotplanRank + (pale ? 5.5 : 0), by: by, place: shotplanPlaceMark,
      named: layer.shotplanText !== undefined, full: layer.shotplanText || "",
      at: map.latLngToContainerPoint(layer.getLatLng()).add([by.x, by.y]),
      span: layer.getElement().querySelector("span"), line: layer.getElement().querySelector("i")
    };
    if (!mark.span.offsetWidth) { return; }
    if (within.contains(mark.at)) { marks.push(mark); return; }
    mark.span.style.visibility = mark.line.style.visibility = "hidden"; // a name left from another view
  });
  return marks;
}

// -- names of lines, areas and round things, in a pane of their own

function shotplanSpan(map, name) {
  var span = shotplanPut(map.getPane("names"), "span", name.text, "name of-" + name.look);
  span.shotplanHalf = [span.offsetWidth / 2 + 1, span.offsetHeight / 2];
  return span;
}

function shotplanSet(map, span, x, y, turn) {
  var at = map.containerPointToLayerPoint([x, y]);
  span.style.transform = "translate(" + at.x + "px, " + at.y + "px) translate(-50%, -50%) rotate(" + turn + "rad)";
  span.style.visibility = "visible";
}

function shotplanNamePoint(one, taken, map) {
  var span = shotplanSpan(map, one.name), half = span.shotplanHalf;
  var best = shotplanRound(one.at, half, [2, 12, 24, 40], one.radius, taken);
  if (best.cost >= shotplanHides) { span.remove(); return; }
  taken.boxes.push(best.box);
  shotplanSet(map, span, one.at.x + best.x, one.at.y + best.y, 0);
  if (best.away > 2) {
    var line = shotplanPut(map.getPane("names"), "i");
    var at = map.containerPointToLayerPoint(one.at);
    line.style.width = shotplanLead(best, half) + "px";
    line.style.transform = "translate(" + at.x + "px, " + at.y + "px) rotate(" + Math.atan2(best.y, best.x) + "rad)";
  }
}

function shotplanNameArea(one, taken, map) {
  var span = shotplanSpan(map, one.name), half = span.shotplanHalf, box = one.box, best = null;
  for (var i = 1; i < 8; i += 1) {
    for (var j = 1; j < 8; j += 1) {
      var x = box.min.x + (box.max.x - box.min.x) * i / 8, y = box.min.y + (box.max.y - box.min.y) * j / 8;
      var corners = [[-1, -1], [1, -1], [1, 1], [-1, 1], [0, 0]];
      var inside = corners.every(function (c) {
        return shotplanInside(one.ring, x + c[0] * half[0], y + c[1] * half[1]);
      });
      var cost = shotplanCost([x - half[0], y - half[1], x + half[0], y + half[1]], taken) +
        Math.abs(i - 4) + Math.abs(j - 4);
      if (inside && (best === null || cost < best.cost)) { best = {cost: cost, x: x, y: y}; }
    }
  }
  if (best === null || best.cost >= shotplanHides) {
    span.remove();
    if (one.name.rank < 10) { shotplanNamePoint(one, taken, map); }
    return;
  }
  taken.boxes.push([best.x - half[0], best.y - half[1], best.x + half[0], best.y + half[1]]);
  shotplanSet(map, span, best.x, best.y, 0);
}

function shotplanInside(ring, x, y) {
  var inside = false;
  ring.forEach(function (a, i) {
    var b = ring[(i + 1) % ring.length];
    if ((a.y > y) !== (b.y > y) && x < (b.x - a.x) * (y - a.y) / (b.y - a.y) + a.x) { inside = !inside; }
  });
  return inside;
}

// Along a line where it is straight enough: names upright for the reader beside it, height figures
// in it with their top uphill (which is left of how the line runs).
function shotplanNameLine(one, taken, map) {
  var span = shotplanSpan(map, one.name), half = span.shotplanHalf, figure = one.name.rank === 10;
  var points = one.points, sums = [0], best = null;
  points.forEach(function (p, i) { if (i) { sums.push(sums[i - 1] + p.distanceTo(points[i - 1])); } });
  var whole = sums[sums.length - 1], low = 0;
  function at(s) {
    while (low > 0 && sums[low] > s) { low -= 1; }
    while (low < sums.length - 2 && sums[low + 1] < s) { low += 1; }
    var long = sums[low + 1] - sums[low];
    return points[low].add(points[low + 1].subtract(points[low]).multiplyBy(long ? (s - sums[low]) / long : 0));
  }
  for (var s = half[0] + 4; s < whole - half[0] - 4; s += figure ? 24 : 14) {
    var middle = at(s);
    if (middle.x < 0 || middle.y < 0 || middle.x > taken.size.x || middle.y > taken.size.y) { continue; }
    var a = at(s - half[0]), b = at(s + half[0]), turn = Math.atan2(b.y - a.y, b.x - a.x);
    var bent = Math.max.apply(null, [0.25, 0.5, 0.75].map(function (share) {
      var p = at(s + (2 * share - 1) * half[0]);
      return Math.hypot(p.x - a.x - share * (b.x - a.x), p.y - a.y - share * (b.y - a.y));
    }));
    if (bent > (figure ? 4 : 5) || Math.hypot(b.x - a.x, b.y - a.y) < 1.7 * half[0]) { continue; }
    if (!figure && Math.cos(turn) < -0.001) { turn += Math.PI; }
    if (figure && one.figures.some(function (f) { return f.distanceTo(middle) < 150; })) { continue; }
    [-1, 1].slice(0, figure ? 1 : 2).forEach(function (side) {
      var off = figure ? 0 : side * (half[1] + 5);
      var x = (a.x + b.x) / 2 - off * Math.sin(turn), y = (a.y + b.y) / 2 + off * Math.cos(turn);
      var boxes = shotplanTurned(x, y, half, turn), cost = 0.002 * Math.abs(s - whole / 2) + (side > 0 ? 0.5 : 0);
      boxes.forEach(function (box) { cost += shotplanCost(box, taken); });
      if (best === null || cost < best.cost) { best = {cost: cost, x: x, y: y, turn: turn, boxes: boxes}; }
    });
  }
  if (best === null || best.cost >= shotplanHides) { span.remove(); return; }
  taken.boxes.push.apply(taken.boxes, best.boxes);
  if (figure) { one.figures.push(L.point(best.x, best.y)); }
  shotplanSet(map, span, best.x, best.y, best.turn);
}

// A turned field as small upright boxes along it.
function shotplanTurned(x, y, half, turn) {
  var boxes = [], count = Math.max(1, Math.ceil(half[0] / half[1]));
  for (var k = 0; k < count; k += 1) {
    var along = (2 * (k + 0.5) / count - 1) * half[0], step = half[0] / count;
    var wide = Math.abs(step * Math.cos(turn)) + Math.abs(half[1] * Math.sin(turn));
    var high = Math.abs(step * Math.sin(turn)) + Math.abs(half[1] * Math.cos(turn));
    var mx = x + along * Math.cos(turn), my = y + along * Math.sin(turn);
    boxes.push([mx - wide, my - high, mx + wide, my + high]);
  }
  return boxes;
}

function shotplanNames(map) {
  var names = [], figures = [], view = map.getBounds().pad(0.05);
  map.eachLayer(function (layer) {
    var name = layer.shotplanName;
    if (!name || !layer.getElement || !layer.getElement()) { return; }
    if (!layer.getBounds || !view.intersects(layer.getBounds())) { return; }
    var one = {name: name, rank: name.rank, figures: figures};
    if (layer.getRadius) {
      one.at = map.latLngToContainerPoint(layer.getLatLng());
      one.radius = layer._radius || 0;
      one.place = shotplanNamePoint;
    } else {
      var path = layer.getLatLngs(), flat = L.LineUtil.isFlat(path) ? path : path[0];
      one.points = flat.map(function (p) { return map.latLngToContainerPoint(p); });
      one.place = shotplanNameLine;
      if (layer instanceof L.Polygon) {
        one.ring = one.points;
        var box = L.bounds(one.points), size = map.getSize();
        one.box = L.bounds([Math.max(box.min.x, 0), Math.max(box.min.y, 0)], [Math.min(box.max.x, size.x), Math.min(box.max.y, size.y)]);
        one.at = one.box.getCenter();
        one.radius = Math.min(one.box.getSize().x, one.box.getSize().y) / 2;
        one.place = shotplanNameArea;
      }
    }
    names.push(one);
  });
  return names;
}

function shotplanApart(map) {
  if (!map.getPane("names")) {
    map.createPane("names").style.zIndex = 580;
    map.getPane("names").style.pointerEvents = "none";
  }
  map.getPane("names").textContent = "";
  var taken = shotplanTaken(map), all = shotplanMarks(map, taken.size).concat(shotplanNames(map));
  all.forEach(function (one) { // a mark at a place is in the way of names, too
    var half = one.named ? 11 : 7;
    if (one.span) { taken.boxes.push([one.at.x - half, one.at.y - half, one.at.x + half, one.at.y + half]); }
  });
  all.sort(function (a, b) { return a.rank - b.rank; });
  all.slice(0, 160).forEach(function (one) { one.place(one, taken, map); });
}
