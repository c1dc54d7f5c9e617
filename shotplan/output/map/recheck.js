"use strict";
// The plan asked again on the hill. What is entered is looked up on the stricter side; a word is
// the worst of the plan's own and what the entries say; where the table ends it is unknown.
var recheckUnknown = 2, recheckNoGo = 3, recheckHair = 1e-9;

// Verdict code of a wind; null where none was entered. `entry`: from (a side's number), mean,
// gust, height ("hand", "open").
function recheckWind(shot, entry) {
  if (entry.from === null && entry.mean === null && entry.gust === null) { return null; }
  if (entry.from === null || !(entry.mean >= 0 && entry.gust >= 0) || entry.mean === null ||
      entry.gust === null) { return recheckUnknown; }
  var side = shot[entry.height][entry.from], means = side.length / shot.gusts;
  var gust = Math.max(entry.gust, entry.mean), more = gust - entry.mean;
  var i = Math.ceil(entry.mean - recheckHair), j = Math.ceil(gust - recheckHair);
  var beyond = i >= means || j >= shot.gusts;
  i = Math.min(i, means - 1);
  j = Math.min(j, shot.gusts - 1);
  var code = Number(side.charAt(i * shot.gusts + j)), push = shot.push[entry.from];
  if (beyond || (push[1] !== null && more > push[1] + recheckHair)) { code = Math.max(code, recheckUnknown); }
  if (push[0] !== null && more > push[0] + recheckHair) { code = Math.max(code, 1); }
  return code;
}

// Of a start, in minutes since midnight; null where none was entered.
function recheckTime(table, shot, minutes) {
  if (minutes === null) { return null; }
  var off = minutes - shot.start;
  if (off > 720) { off -= 1440; }
  if (off < -720) { off += 1440; }
  if (!(Math.abs(off) <= table.reach)) { return recheckUnknown; }
  var at = (off + table.reach) / table.step;
  return Math.max(Number(shot.times.charAt(Math.floor(at))), Number(shot.times.charAt(Math.ceil(at))));
}

// Of one paced distance; null where none was entered. `pace`: thing, near, far, least, most.
function recheckPace(pace, metres) {
  if (metres === null) { return null; }
  if (!(metres >= 0)) { return recheckUnknown; }
  if (metres < pace[3] || (pace[4] !== null && metres > pace[4])) { return recheckNoGo; }
  return metres < pace[1] || metres > pace[2] ? recheckUnknown : 0;
}

// Why an entry makes the word it makes: what to do about it.
var recheckWhy = {
  side: "say where the wind comes from", mean: "enter the mean wind", gust: "enter the gusts",
  wind: ["", "mind this wind", "not computed for this wind: plan again with it",
    "too much wind from there"],
  time: ["", "this hour costs light or sun", "not computed for this hour: plan again with it",
    "too dark at this hour"],
  pace: ["", "", "is not where it was drawn: plan again with it", "stands too near the flight"],
  held: "nobody is held back at "
};

function recheckWindWhy(code, entry) {
  if (code !== recheckUnknown) { return recheckWhy.wind[code]; }
  if (entry.from === null) { return recheckWhy.side; }
  if (!(entry.mean >= 0) || entry.mean === null) { return recheckWhy.mean; }
  if (!(entry.gust >= 0) || entry.gust === null) { return recheckWhy.gust; }
  return recheckWhy.wind[code];
}

// The word of a shot and what each entry says of it, and why: `{code, parts: [[what, code, why],
// ...]}`. `entry.held`: whether somebody stands at each of the table's held places.
function recheckShot(table, shot, entry) {
  var parts = [["plan", shot.word, shot.why]];
  function told(what, code, why) { if (code !== null) { parts.push([what, code, why]); } }
  var wind = recheckWind(shot, entry), hour = recheckTime(table, shot, entry.time);
  told("wind", wind, recheckWindWhy(wind, entry));
  told("time", hour, recheckWhy.time[hour]);
  shot.pace.forEach(function (pace) {
    var code = recheckPace(pace, entry.paced[pace[0]]), name = table.things[pace[0]].name;
    told(name, code, code === null ? "" : entry.paced[pace[0]] >= 0 ?
      name + " " + recheckWhy.pace[code] : "enter a number for " + name);
  });
  (entry.held || []).forEach(function (held, index) {
    var name = table.held[index].name;
    told(name, held ? 0 : recheckUnknown, recheckWhy.held + name + ": plan again without");
  });
  return {code: Math.max.apply(null, parts.map(function (p) { return p[1]; })), parts: parts};
}

if (typeof document === "undefined") {
  module.exports = {shot: recheckShot};
} else {
  (function () {
    var table = JSON.parse(document.getElementById("words").textContent).recheck;
    var root = document.getElementById("recheck"), paces = [], from = null, held;
    var height = root.querySelector("[data-height]").dataset.height;
    function at(name) { return document.getElementById("recheck-" + name); }
    function put(parent, tag, text, name) {
      var made = document.createElement(tag);
      made.textContent = text;
      if (name) { made.className = name; }
      parent.appendChild(made);
      return made;
    }

    // null: nothing entered; NaN: something that is no number. Comma or point.
    function number(field) {
      var text = field.value.trim().replace(",", ".");
      return text === "" ? null : /^[0-9]+(\.[0-9]*)?$|^\.[0-9]+$/.test(text) ? Number(text) : NaN;
    }

    function minutes(field) {
      var text = field.value.trim(), told = text.match(/^([0-9]{1,2})[:.]([0-9]{2})$/);
      if (text === "") { return null; }
      return told && told[1] < 24 && told[2] < 60 ? 60 * Number(told[1]) + Number(told[2]) : NaN;
    }

    function clock(minute) {
      var whole = (Math.round(minute) + 1440) % 1440;
      return ("0" + Math.floor(whole / 60)).slice(-2) + ":" + ("0" + whole % 60).slice(-2);
    }

    function force(mean) {
      if (mean === null || !(mean >= 0)) { return ""; }
      var number = 0;
      table.forces.forEach(function (row, k) { if (mean >= row[0]) { number = k; } });
      return (height === "hand" ? "10 m up this would be force " : "force ") + number + ": " +
        table.forces[number][1];
    }

    // The reason beside a word: the plan's own before that of an entry, but for what is not known:
    // there an entry can be mended at once.
    function reason(found) {
      var same = found.parts.filter(function (p) { return p[1] === found.code; });
      return (found.code === recheckUnknown ? same[same.length - 1] : same[0])[2];
    }

    function pressed(name, value) {
      root.querySelectorAll("[data-" + name + "]").forEach(function (button) {
        button.setAttribute("aria-pressed", String(button.dataset[name] === String(value)));
      });
    }

    function show() {
      var list = at("words"), entry = {
        from: from, mean: number(at("mean")), gust: number(at("gust")), height: height,
        time: minutes(at("time")), paced: paces.map(number), held: held
      };
      at("force").textContent = force(entry.mean);
      at("from").textContent = from === null ? "from?" : table.sides[from];
      pressed("side", from);
      pressed("height", height);
      list.textContent = "";
      table.shots.forEach(function (shot) {
        var found = recheckShot(table, shot, entry), item = put(list, "li", "");
        put(item, "b", shot.letter).title = shot.name;
        put(item, "span", table.words[found.code], "chip " + table.words[found.code]);
        put(item, "span", reason(found), "why");
      });
      root.querySelectorAll(".stepper").forEach(function (stepper) {
        stepper.classList.toggle("open", stepper.querySelector("input").value.trim() === "");
      });
    }

    // Steps of a field; the first tap enters what was planned.
    function steps(field, planned, step, read, write) {
      var base = planned === null ? 0 : planned;
      field.placeholder = planned === null ? "" : write(planned);
      field.parentElement.querySelectorAll("button").forEach(function (button) {
        button.addEventListener("click", function (e) {
          var now = read(field), by = step * Number(button.dataset.step);
          e.preventDefault();
          field.value = write(now === null || isNaN(now) ? base : now + by);
          show();
        });
      });
    }

    function metres(value) { return String(Math.max(0, Math.round(10 * value) / 10)); }

    function paced(thing) {
      var label = put(at("paces"), "label", "", "stepper wide"), says = put(label, "span", "");
      put(says, "b", thing.name);
      put(says, "span", thing.says, "small");
      var box = put(label, "span", "", "steps"), less = put(box, "button", "−");
      var field = put(box, "input", ""), more = put(box, "button", "+");
      [[less, -1], [more, 1]].forEach(function (it) {
        it[0].type = "button";
        it[0].dataset.step = it[1];
        it[0].setAttribute("aria-label", thing.name + (it[1] < 0 ? ": less" : ": more"));
      });
      field.inputMode = "decimal";
      field.setAttribute("aria-label", thing.name);
      steps(field, thing.drawn, 0.5, number, metres);
      paces.push(field);
    }

    function holding(place, index) {
      put(at("held"), "h3", place.name);
      var box = put(at("held"), "div", "", "choice");
      [[true, (place.by || "somebody") + " holds it"], [false, "nobody holds it"]].forEach(function (it) {
        var button = put(box, "button", it[1]);
        button.type = "button";
        button.setAttribute("aria-pressed", String(it[0]));
        button.addEventListener("click", function () {
          held[index] = it[0];
          Array.from(box.children).forEach(function (one) {
            one.setAttribute("aria-pressed", String(one === button));
          });
          show();
        });
      });
    }

    function begin() {
      from = null;
      held = table.held.map(function () { return true; });
      root.querySelectorAll("input").forEach(function (field) { field.value = ""; });
      at("held").textContent = "";
      table.held.forEach(holding);
      show();
    }

    root.querySelectorAll("[data-side]").forEach(function (button) {
      button.addEventListener("click", function () { from = Number(button.dataset.side); show(); });
    });
    root.querySelectorAll("[data-turn]").forEach(function (button) {
      button.addEventListener("click", function () {
        from = from === null ? 0 : (from + Number(button.dataset.turn) + 16) % 16;
        show();
      });
    });
    root.querySelectorAll("[data-height]").forEach(function (button) {
      button.addEventListener("click", function () { height = button.dataset.height; show(); });
    });
    steps(at("mean"), table.planned.mean, 0.5, number, metres);
    steps(at("gust"), table.planned.gust, 0.5, number, metres);
    steps(at("time"), table.shots.length ? table.shots[0].start : 0, 15, minutes, clock);
    table.things.forEach(paced);
    at("paces").hidden = paces.length === 0;
    at("none").addEventListener("click", begin);
    root.addEventListener("input", show);
    root.hidden = false;
    begin();
  }());
}
