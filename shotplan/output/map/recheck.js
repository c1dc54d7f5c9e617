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

// The word of a shot and what each entry says of it: `{code, parts: [[what, code], ...]}`.
function recheckShot(table, shot, entry) {
  var parts = [["plan", shot.word]];
  function told(what, code) { if (code !== null) { parts.push([what, code]); } }
  told("wind", recheckWind(shot, entry));
  told("time", recheckTime(table, shot, entry.time));
  shot.pace.forEach(function (pace) {
    told(table.things[pace[0]].name, recheckPace(pace, entry.paced[pace[0]]));
  });
  return {code: Math.max.apply(null, parts.map(function (p) { return p[1]; })), parts: parts};
}

if (typeof document === "undefined") {
  module.exports = {shot: recheckShot};
} else {
  (function () {
    var table = JSON.parse(document.getElementById("words").textContent).recheck;
    var root = document.getElementById("recheck"), paces = [];
    function at(name) { return document.getElementById("recheck-" + name); }
    function put(parent, tag, text, name) {
      var made = document.createElement(tag);
      made.textContent = text;
      if (name) { made.className = name; }
      parent.appendChild(made);
      return made;
    }

    // null: nothing entered; NaN: something that is no number.
    function number(field) {
      if (field.value === "") { return field.validity.badInput ? NaN : null; }
      return Number(field.value);
    }

    function minutes(field) {
      if (field.value === "") { return field.validity.badInput ? NaN : null; }
      var told = field.value.split(":");
      return 60 * Number(told[0]) + Number(told[1]);
    }

    function force(mean, height) {
      if (mean === null || !(mean >= 0)) { return ""; }
      var number = 0;
      table.forces.forEach(function (row, k) { if (mean >= row[0]) { number = k; } });
      return (height === "hand" ? "10 m up this would be force " : "force ") + number + ": " +
        table.forces[number][1];
    }

    function show() {
      var from = at("from").value, list = at("words");
      var entry = {
        from: from === "" ? null : Number(from), mean: number(at("mean")), gust: number(at("gust")),
        height: at("height").value, time: minutes(at("time")), paced: paces.map(number)
      };
      at("force").textContent = force(entry.mean, entry.height);
      list.textContent = "";
      table.shots.forEach(function (shot) {
        var found = recheckShot(table, shot, entry), item = put(list, "li", "");
        put(item, "b", shot.letter);
        put(item, "span", table.words[found.code], "chip " + table.words[found.code]);
        put(item, "span", shot.name);
        put(item, "p", found.parts.map(function (part) {
          return part[0] + ": " + table.words[part[1]];
        }).join("; "), "small");
      });
    }

    table.things.forEach(function (thing) {
      var label = put(at("paces"), "label", ""), field = document.createElement("input");
      put(label, "b", thing.name);
      put(label, "span", thing.says, "small");
      field.type = "number";
      field.min = "0";
      field.step = "0.1";
      field.inputMode = "decimal";
      label.appendChild(field);
      paces.push(field);
    });
    at("paces").hidden = paces.length === 0;
    root.addEventListener("input", show);
    root.addEventListener("change", show);
    root.hidden = false;
    show();
  }());
}
