/* Puts the page together. */
import * as api from "./api.js";
import * as asking from "./asking.js";
import * as doc from "./doc.js";
import {byId, fill, letter, make} from "./dom.js";
import * as flights from "./flights.js";
import * as form from "./form.js";
import * as handles from "./handles.js";
import {beginAt, fitAlso, map, rideNow, seven, showGround} from "./map.js";
import * as marks from "./marks.js";
import * as saving from "./saving.js";
import * as shots from "./shots.js";
import * as tools from "./tools.js";

const L = window.L;
const RIDE_OFF_M = 0.3;
let picked = "", place = null, again = false;

function pick(name) {
  picked = doc.feature(name) ? name : "";
  handles.pick(picked);
  form.pick(picked);
}

function remove(name) {
  const one = doc.feature(name);
  if (one) { doc.remove("deleted " + doc.nameOf(one), name); }
}

function painted() {
  const rows = doc.shots().map((shot, index) => ({
    letter: letter(index), chosen: shot._key === shots.chosenKey(),
    word: asking.words(shot._key)?.word, eye: asking.frame(shot._key)?.picture
      ? asking.frame(shot._key) : null,
  }));
  flights.show(rows.filter((one) => one.word));
  if (rows.every((one) => one.word) && !picked && !tools.drawing()) {
    fitAlso(rows.flatMap((one) => one.word.flies.flatMap((run) => run.line)));
  }
}

function all() {
  saving.show();
  shots.show();
  form.show();
  painted();
}

doc.listen((before) => {
  marks.refresh(before);
  if (picked && !doc.feature(picked)) { picked = ""; }
  handles.pick(picked);
  form.pick(picked);
  shots.changed();
  all();
  asking.pump();
});
asking.listen(() => { shots.show(); form.show(); painted(); things(); }, (said) => {
  place = said;
  byId("title").textContent = said.title;
  document.title = said.title + ": draw";
  shots.about(said);
  tools.before(said.day);
  showGround(said);
});
marks.picked((name, event) => {
  L.DomEvent.stopPropagation(event);
  if (tools.drawing()) { tools.tap(event.latlng); return; }
  tools.choose("pick");
  pick(name);
});
shots.listen((key, name) => { if (name) { pick(name); } painted(); });
form.listen(remove, pick, () => {
  again = true;
  tools.choose("ride");
  again = false;
});
tools.listen((made, says) => {
  if (made.properties.role === "ride") { drewRide(made); return; }
  doc.put(says, made);
  pick(made.id);
}, (name) => { if (name !== "pick") { pick(""); } if (name === "ride") { offerRide(); } });
map.on("click", (event) => { if (tools.drawing()) { tools.tap(event.latlng); } else { pick(""); } });

/* A drawn ride becomes the ride that is filmed, as good as the hand that drew it. */
function drewRide(made) {
  doc.step("drew the ride", (it) => ({...it, features: new Map(it.features).set(made.id, made),
    ride: form.rideOf(it.ride, made.id, it.ride.speed_m_s ?? place?.ride_m_s ?? 5)}));
  pick(made.id);
}

/* Where the ride is a recording: its line with fewer corners, to be corrected. */
function offerRide() {
  const drawn = doc.feature(doc.get().ride.path);
  if (again) { return; }
  if (drawn) { tools.choose("pick"); pick(drawn.id); return; }
  const line = rideNow(), back = doc.get().ride.there_and_back;
  const half = back ? line.filter((p) => p[2] <= place.ride_m / 2) : line;
  if (half.length < 2) { return; }
  byId("drawing").append(make("button", {type: "button", id: "correct", class: "dark",
    onclick: () => {
      const flat = half.map((p) => L.CRS.EPSG3857.project(L.latLng(p[0], p[1])));
      const scale = Math.cos(half[0][0] * Math.PI / 180);
      const few = L.LineUtil.simplify(flat, RIDE_OFF_M / scale)
        .map((p) => L.CRS.EPSG3857.unproject(p)).map((p) => [seven(p.lng), seven(p.lat)]);
      tools.choose("pick");
      drewRide({id: doc.fresh("ride"), properties: {role: "ride",
        name: "the recording, corrected"}, geometry: {type: "LineString", coordinates: few}});
    }}, "correct the recorded line"));
}

/* All things in a list: how the keyboard picks one. */
function things() {
  const list = byId("things");
  if (!list || document.activeElement === list) { return; }
  const rows = [...doc.features().values()].slice(0, 400);
  fill(list, make("option", {value: ""}, "all things (" + doc.features().size + ")"),
    ...rows.map((one) => make("option", {value: one.id},
      doc.nameOf(one) + " · " + (doc.formOf(one.properties.role)?.word ?? ""))));
  list.value = picked;
}

function keys(event) {
  const typing = event.target.matches("input:not([type=range]):not([type=checkbox]), select, textarea");
  const held = event.ctrlKey || event.metaKey, key = event.key.toLowerCase();
  if (held && key === "z" && !typing) { event.shiftKey ? doc.redo() : doc.undo(); }
  else if (held && key === "y" && !typing) { doc.redo(); }
  else if (held && key === "s") { document.activeElement?.blur?.(); saving.save(); }
  else if (held || event.altKey || typing) { return; }
  else if (key === "escape") { tools.drawing() ? tools.cancel() : pick(""); }
  else if (tools.drawing() && onMap(event) && key === " ") { tools.putHere(); }
  else if (tools.drawing() && onMap(event) && key === "enter") { tools.finish(); }
  else if (tools.drawing() && onMap(event) && key === "backspace") { tools.back(); }
  else if (picked && key === "delete") { remove(picked); }
  else if (key.length === 1 && tools.byKey(key)) { /* chosen */ }
  else { return; }
  event.preventDefault();
}

const onMap = (event) => !event.target.closest("button, input, select, a");

async function start() {
  const read = await api.state();
  if (read.problems) {
    fill(byId("rows"), ...read.problems.map((one) => make("p", {class: "row"}, one.where + ": " + one.what)));
    return;
  }
  beginAt(read.features.flatMap((one) => {
    try { return [marks.middle(one)]; } catch { return []; }
  }));
  byId("title").textContent = "draw";
  doc.open(read);
  tools.showTools();
  byId("tools").append(make("label", {class: "list"}, make("select", {id: "things",
    "aria-label": "all things", onchange: (event) => {
      const one = doc.feature(event.target.value);
      if (!one) { return; }
      tools.choose("pick");
      pick(one.id);
      map.panTo(marks.middle(one));
    }})));
  things();
  if (doc.shots().length) { shots.choose(doc.shots()[0]._key); }
  byId("undo").addEventListener("click", () => doc.undo());
  byId("redo").addEventListener("click", () => doc.redo());
  byId("save").addEventListener("click", () => saving.save());
  document.addEventListener("keydown", keys);
  saving.watch();
  all();
  asking.pump();
}

start();
