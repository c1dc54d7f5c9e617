"use strict";
// Moves rider, aircraft and what the camera shows along a shot's undisturbed track.
(function () {
  var words = shotplanWords, map = null, marks = null;
  var chosen = 0, now = 0, playing = 0, before = 0, speed = 1;
  var METRES = 6371000 * Math.PI / 180; // of one degree of latitude
  var STEEP = 60; // degrees; tilted more, the fan is the patch of ground in the picture

  function by(id) { return document.getElementById("moment-" + id); }
  function column(name) { return words.columns.indexOf(name); }
  function shot() { return words.shots[chosen]; }
  function ends() { return shot().rows[shot().rows.length - 1][0]; }

  // The last row that is not later than the moment, and how far on it is to the next.
  function place() {
    var rows = shot().rows, low = 0, high = rows.length - 1;
    while (high - low > 1) {
      var middle = (low + high) >> 1;
      if (rows[middle][0] <= now) { low = middle; } else { high = middle; }
    }
    if (high > low && rows[high][0] <= now) { return {row: high, next: high, share: 0}; }
    var long = rows[high][0] - rows[low][0];
    return {row: low, next: high, share: long > 0 ? Math.max(0, (now - rows[low][0]) / long) : 0};
  }

  function between(at, name) {
    var a = shot().rows[at.row][column(name)], b = shot().rows[at.next][column(name)];
    if (a === null || b === null) { return a; }
    return a + at.share * (b - a);
  }

  function turned(at) {
    var a = shot().rows[at.row][column("azimuth")], b = shot().rows[at.next][column("azimuth")];
    if (a === null || b === null) { return null; }
    return a + at.share * ((b - a + 540) % 360 - 180);
  }

  function from(latlng, east_m, north_m) {
    var squeeze = Math.cos(latlng.lat * Math.PI / 180);
    return [latlng.lat + north_m / METRES, latlng.lng + east_m / METRES / squeeze];
  }

  // From above: the two edges of the camera's view, out to what it is held on and beyond; tilted
  // steeply, the ground it shows.
  function fan(at, craft) {
    var azimuth = turned(at), tilt = between(at, "tilt"), away = between(at, "aim");
    if (azimuth === null || tilt === null || away === null) { return []; }
    var turn = azimuth * Math.PI / 180, up = tilt * Math.PI / 180, points = [];
    var half = Math.tan(shot().fov * Math.PI / 360);
    var level = away * Math.cos(up), reach = Math.max(1.5 * level, level + 8);
    if (Math.abs(tilt) <= STEEP) {
      var wide = Math.atan(half / Math.cos(up));
      [-1, 1].forEach(function (k) {
        var to = turn + wide * k;
        points.push(from(craft, reach * Math.sin(to), reach * Math.cos(to)));
      });
      return [points[0], craft, points[1]];
    }
    [[-1, -1], [-1, 1], [1, 1], [1, -1]].forEach(function (corner) {
      var right = corner[0] * half, top = corner[1] * half / shot().aspect;
      var ahead = Math.cos(up) - top * Math.sin(up), down = -Math.sin(up) - top * Math.cos(up);
      var far = away * Math.abs(Math.sin(up)) / Math.max(down, 0.2);
      points.push(from(craft,
        far * (ahead * Math.sin(turn) + right * Math.cos(turn)),
        far * (ahead * Math.cos(turn) - right * Math.sin(turn))));
    });
    points.push(points[0]);
    return points;
  }

  function drawn(name, attributes, parent) {
    var made = document.createElementNS("http://www.w3.org/2000/svg", name);
    Object.keys(attributes).forEach(function (key) { made.setAttribute(key, attributes[key]); });
    if (parent) { parent.appendChild(made); }
    return made;
  }

  function picture(kind) {
    var svg = drawn("svg", {viewBox: "-18 -18 36 36", width: 28, height: 28});
    if (kind === "rider") {
      drawn("circle", {r: 11, fill: "#1d2125"}, svg);
      drawn("circle", {r: 9.5, fill: "#ffffff"}, svg);
      drawn("circle", {r: 6.5, fill: "#6a4a1c"}, svg);
      return svg;
    }
    drawn("path", {d: "M0 -12L9 9H-9Z", fill: "#ffffff", stroke: "#1d2125", "stroke-width": 2.5,
      "stroke-linejoin": "round"}, svg);
    return svg;
  }

  function mover(kind) {
    var icon = L.divIcon({className: "mover " + kind, html: picture(kind), iconSize: [28, 28]});
    return L.marker([0, 0], {icon: icon, interactive: false, keyboard: false,
      zIndexOffset: kind === "craft" ? 3000 : 2900});
  }

  function make() {
    map.createPane("fan").style.zIndex = 450;
    map.getPane("fan").style.pointerEvents = "none";
    marks = {
      fan: L.polyline([], {pane: "fan", className: "fan", color: "#1d2125", weight: 2,
        interactive: false}),
      rider: mover("rider"), craft: mover("craft")
    };
  }

  function metres(value) { return value === null ? "not known" : value.toFixed(1) + " m"; }

  function tell(at) {
    var row = shotplanRow(shot(), at.share < 0.5 ? at.row : at.next);
    var display = row.above_launch === null ? "what your display reads is not known" :
      "your display reads " + metres(row.above_launch);
    by("when").textContent = row.t.toFixed(1) + " s, " + row.along.toFixed(0) +
      " m along the ride";
    by("display").textContent = display + "; " + metres(row.height) + " over the ground";
    by("rider").textContent = metres(row.away) + " away, flying " + row.speed.toFixed(1) + " m/s" +
      (row.blind ? ", toward what it does not sense" : "");
    by("seen").textContent = row.seen;
    by("nearest").textContent = row.nearest;
    by("binds").textContent = "";
    shotplanPut(by("binds"), "span", row.word, "chip " + row.word);
    by("binds").appendChild(document.createTextNode(" " + row.binds));
    by("at").setAttribute("aria-valuetext", row.t.toFixed(1) + " seconds, " +
      row.along.toFixed(0) + " metres along the ride, " + row.word);
  }

  function show() {
    if (!map) { return; }
    if (!marks) { make(); }
    var at = place();
    var craft = shotplanAt(between(at, "east"), between(at, "north"));
    marks.fan.setLatLngs(fan(at, craft));
    marks.rider.setLatLng(shotplanAt(between(at, "rider_east"), between(at, "rider_north")));
    marks.craft.setLatLng(craft);
    [marks.fan, marks.rider, marks.craft].forEach(function (mark) {
      if (!map.hasLayer(mark)) { mark.addTo(map); }
    });
    if (!map.getBounds().pad(-0.05).contains(craft)) {
      map.panInside(craft, {padding: [60, 60], animate: false});
    }
    by("words").hidden = false;
    by("hint").hidden = true;
    tell(at);
  }

  function hide() {
    stop();
    if (marks) { [marks.fan, marks.rider, marks.craft].forEach(function (mark) { mark.remove(); }); }
    by("words").hidden = true;
    by("hint").hidden = false;
  }

  function go(moment) {
    now = Math.min(Math.max(moment, 0), ends());
    by("at").value = now.toFixed(1);
    show();
  }

  function stop() {
    if (playing) { cancelAnimationFrame(playing); }
    playing = 0;
    by("play").textContent = "▶";
    by("play").setAttribute("aria-label", "play");
  }

  function frame(stamp) {
    var gone = before ? Math.min((stamp - before) / 1000, 0.25) : 0;
    before = stamp;
    go(now + speed * gone);
    if (now >= ends()) { stop(); return; }
    playing = requestAnimationFrame(frame);
  }

  function play() {
    if (playing) { stop(); return; }
    if (now >= ends()) { now = 0; }
    before = 0;
    by("play").textContent = "❚❚";
    by("play").setAttribute("aria-label", "pause");
    playing = requestAnimationFrame(frame);
  }

  // The verdict along the shot, over the bar.
  function strip() {
    var rows = shot().rows, kind = column("verdict"), low = 0;
    by("strip").textContent = "";
    rows.forEach(function (row, index) {
      var next = rows[index + 1];
      if (next && next[kind] === row[kind]) { return; }
      var part = shotplanPut(by("strip"), "i", "", words.verdicts[row[kind]]);
      part.style.flexGrow = Math.max((next || row)[0] - rows[low][0], 0.05);
      low = index + 1;
    });
  }

  function pick(index) {
    stop();
    chosen = index;
    now = 0;
    by("at").max = ends();
    by("at").value = 0;
    by("whose").textContent = shot().letter;
    strip();
  }

  // What is moved is the shot that is shown alone.
  function alone() {
    if (shotplanShots.chosen() !== chosen) { shotplanShots.choose(chosen); }
  }

  function keys(e) {
    var by_s = {ArrowLeft: -0.5, ArrowDown: -0.5, ArrowRight: 0.5, ArrowUp: 0.5,
      PageDown: -5, PageUp: 5}[e.key];
    if (e.key === " ") { play(); } else if (by_s) {
      stop();
      go(now + (e.shiftKey ? by_s / 5 : by_s));
    } else { return; }
    e.preventDefault();
  }

  by("play").addEventListener("click", function () { alone(); play(); });
  by("at").addEventListener("input", function () {
    stop();
    alone();
    go(Number(by("at").value));
  });
  by("at").addEventListener("keydown", function (e) { alone(); keys(e); });
  by("fast").addEventListener("click", function () {
    speed = speed === 4 ? 1 : 2 * speed;
    by("fast").textContent = "×" + speed;
  });
  if (words.shots.length) { pick(0); }
  L.Map.addInitHook(function () {
    map = this;
    map.on("shotplan:chosen", function (e) {
      if (e.shot < 0) { hide(); return; }
      if (e.shot !== chosen || !marks) { pick(e.shot); }
      go(now);
    });
    map.on("shotplan:tap", function (e) {
      if (e.shot !== chosen) { pick(e.shot); }
      stop();
      alone();
      go(shot().rows[e.index][0]);
    });
  });
}());
