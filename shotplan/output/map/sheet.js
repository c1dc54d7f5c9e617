// What a tap tells comes up from below; nothing lies over it. All of it is set as text.
var shotplanSheet = (function () {
  var sheet = document.getElementById("sheet"), map = null, ring = null, now = null;
  function by(id) { return document.getElementById("sheet-" + id); }

  function circle(at) {
    if (!ring) {
      ring = L.layerGroup([[9, "#ffffff"], [4, "#1d2125"]].map(function (pen) {
        return L.circleMarker(at, {radius: 24, weight: pen[0], color: pen[1], fill: false,
          interactive: false, className: "ring"});
      }));
    }
    ring.eachLayer(function (one) { one.setLatLng(at); });
    if (!map.hasLayer(ring)) { ring.addTo(map); }
  }

  // The place stays in that part of the map which the sheet leaves free.
  function clear(at) {
    var frame = map.getContainer().getBoundingClientRect(), it = sheet.getBoundingClientRect();
    var over = it.left < frame.right - 1 && it.right > frame.left + 1;
    var low = over ? Math.max(0, frame.bottom - it.top) : 0;
    map.panInside(at, {paddingTopLeft: [70, 50], paddingBottomRight: [70, low + 40],
      animate: false});
  }

  function close() {
    sheet.hidden = true;
    now = null;
    if (ring) { ring.remove(); }
  }

  // `told`: title, rows, and of a finding mark, word, shot and index; `at` null: no ring.
  function open(told, at) {
    by("title").textContent = told.title;
    by("mark").textContent = told.mark || "";
    by("mark").className = told.word || "";
    by("body").textContent = "";
    var list = shotplanPut(by("body"), "dl");
    told.rows.forEach(function (row) {
      var line = shotplanPut(list, "div");
      shotplanPut(line, "dt", row[0]);
      shotplanPut(line, "dd", row[1]);
    });
    by("next").hidden = told.shot === undefined;
    now = told;
    sheet.hidden = false;
    by("body").scrollTop = 0;
    by("close").focus({preventScroll: true});
    if (ring) { ring.remove(); }
    if (map && at) { circle(at); clear(at); }
  }

  function find(shot, index) {
    var all = shotplanWords.finds[shot], one = all[index], on = all[(index + 1) % all.length];
    if (shotplanShots.chosen() !== shot) { shotplanShots.choose(shot); }
    open({title: (one.tag ? one.tag + " " : "") + one.title, mark: one.mark, word: one.word,
      rows: one.rows, shot: shot, index: index}, one.at && L.latLng(one.at[1], one.at[0]));
    by("on").textContent = "next: " + (on.tag || on.mark) + " ▸";
    by("on").hidden = all.length < 2;
  }

  // All findings of the shot, each a line to tap.
  function list(shot) {
    open({title: shotplanWords.shots[shot].title, rows: [], shot: shot}, null);
    by("next").hidden = true;
    shotplanWords.finds[shot].forEach(function (one, index) {
      var line = shotplanPut(by("body"), "button", "", "find");
      line.type = "button";
      shotplanPut(line, "b", one.mark, one.word);
      shotplanPut(line, "span", (one.tag ? one.tag + " " : "") + one.title);
      line.addEventListener("click", function () { find(shot, index); });
    });
  }

  by("close").addEventListener("click", close);
  by("all").addEventListener("click", function () { list(now.shot); });
  by("on").addEventListener("click", function () {
    find(now.shot, (now.index + 1) % shotplanWords.finds[now.shot].length);
  });
  addEventListener("keydown", function (e) { if (e.key === "Escape") { close(); } });
  L.Map.addInitHook(function () { map = this; });
  return {open: open, find: find, list: list, close: close};
}());
