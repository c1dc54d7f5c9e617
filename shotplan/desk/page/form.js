/* The picked thing's numbers, each with what it is and its unit. */
import * as asking from "./asking.js";
import * as doc from "./doc.js";
import {byId, fill, make, number} from "./dom.js";
import {icon, middle} from "./marks.js";
import {beside} from "./map.js";

let which = "", drop = () => {}, choose = () => {}, redraw = () => {};

export const listen = (dropped, chosen, again) => {
  drop = dropped;
  choose = chosen;
  redraw = again;
};

export function pick(name) {
  which = name;
  show();
}

export function show() {
  const form = byId("form"), one = which && doc.feature(which);
  form.hidden = !one;
  if (!one) { fill(form); return; }
  const held = document.activeElement?.id, mine = form.contains(document.activeElement);
  if (mine && held?.startsWith("field-") && form.dataset.of === which) { problems(one); return; }
  form.dataset.of = which;
  const role = one.properties.role, about = doc.formOf(role);
  let where = "";
  try { where = ", " + beside(middle(one)); } catch { where = ""; }
  fill(form,
    make("div", {class: "head"},
      icon(one.id === "launch" ? "launch" : role),
      make("h2", {}, doc.nameOf(one)),
      make("p", {}, (about ? about.word : String(role)) + where),
      make("button", {type: "button", id: "delete", onclick: () => drop(which)}, "delete"),
      make("button", {type: "button", id: "close", "aria-label": "close", onclick: () => choose("")},
        "✕")),
    make("div", {class: "fields"}, ...(about ? about.fields : []).map((field) => row(one, field))),
    role === "place" ? people(one) : null,
    role === "ride" ? ridden(one) : null,
    make("div", {id: "wrong", role: "alert"}),
    make("p", {class: "hint"}, hint(role)));
  problems(one);
}

function hint(role) {
  if (role === "tree") { return "Drag to move, drag the square to widen. Dashed: grown by what it may be off."; }
  if (role === "place" || role === "pole") { return "Drag to move; on the ring the arrow keys move it half a metre."; }
  return "Drag a square to reshape, a small one to add a corner; Delete on a square takes it away.";
}

function problems(one) {
  const found = asking.wrong().filter((p) => p.feature === one.id);
  const where = byId("wrong");
  if (where) { fill(where, ...found.map((p) => make("p", {}, p.what))); }
}

function set(one, key, value) {
  const now = doc.feature(one.id), properties = {...now.properties};
  if (value === undefined || value === "") { delete properties[key]; } else { properties[key] = value; }
  doc.put("changed " + doc.nameOf(now), {...now, properties});
}

function row(one, field) {
  const id = "field-" + field.key, value = one.properties[field.key];
  const input = inputs[field.how](one, field, value, id);
  return make("div", {class: "field " + field.how},
    make("label", {for: id}, field.label),
    make("span", {}, input, field.unit ? make("em", {}, field.unit) : null));
}

const inputs = {
  number(one, field, value, id) {
    const many = Array.isArray(value);
    return make("input", {id, type: "text", inputMode: "decimal", autocomplete: "off",
      value: many ? value.join("; ") : value ?? "", onchange: (event) => {
        const said = event.target.value;
        const made = many && said.includes(";") ? said.split(";").map(number) : number(said);
        const bad = [made].flat().some((n) => Number.isNaN(n));
        event.target.setAttribute("aria-invalid", String(bad));
        if (!bad) { set(one, field.key, made); }
      }});
  },
  text(one, field, value, id) {
    return make("input", {id, type: "text", maxLength: 200, autocomplete: "off", value: value ?? "",
      onchange: (event) => set(one, field.key, event.target.value.trim())});
  },
  date(one, field, value, id) {
    return make("input", {id, type: "date", value: value ?? "",
      onchange: (event) => set(one, field.key, event.target.value)});
  },
  choice(one, field, value, id) {
    return select(id, ["", ...field.choices], value ?? "", (said) => set(one, field.key, said));
  },
  person(one, field, value, id) {
    const names = doc.get().crew.map((it) => String(it.name));
    return select(id, ["", ...names], value ?? "", (said) => set(one, field.key, said));
  },
  many(one, field, value, id) {
    const now = Array.isArray(value) ? value : [];
    return make("span", {class: "many", id}, ...field.choices.map((kind) => make("label", {},
      make("input", {type: "checkbox", checked: now.includes(kind), onchange: (event) => {
        const held = doc.feature(one.id).properties[field.key] || [];
        const left = held.filter((it) => it !== kind);
        set(one, field.key, event.target.checked ? [...left, kind] : left.length ? left : undefined);
      }}), kind)));
  },
};

export function select(id, choices, value, chosen, words = {}) {
  const all = choices.includes(value) ? choices : [...choices, value];
  const made = make("select", {id, onchange: (event) => chosen(event.target.value)},
    ...all.map((one) => make("option", {value: one}, words[one] || one || "not said")));
  made.value = value;
  return made;
}

/* Who stands at a place. */
function people(one) {
  const crew = doc.get().crew;
  return make("div", {class: "people"}, ...crew.map((person) => make("label", {},
    make("input", {type: "checkbox", checked: person.stands === one.id, onchange: (event) => {
      const on = event.target.checked;
      doc.step((on ? "placed " : "took away ") + person.name, (it) => ({...it,
        crew: it.crew.map((who) => {
          if (who._key !== person._key) { return who; }
          const {stands, ...rest} = who;
          return on ? {...rest, stands: one.id} : rest;
        })}));
    }}), String(person.name) + " stands here")));
}

function ridden(one) {
  const ride = doc.get().ride, is = ride.path === one.id;
  const speed = String(ride.speed_m_s ?? "?"), off = String(ride.error_m ?? 0.5);
  return make("p", {class: "hint"}, is ? "This is the ride that is filmed, ridden evenly at " + speed +
    " m/s; its line may be off by " + off + " m. "
    : make("button", {type: "button", onclick: () => doc.step("another ride", (it) => ({...it,
      ride: rideOf(it.ride, one.id, it.ride.speed_m_s ?? 5)}))}, "film this ride"),
  make("button", {type: "button", id: "redraw", onclick: () => redraw()}, "draw another"));
}

/* The ride's table for a drawn line: no crop of another line stays. */
export function rideOf(ride, path, speed) {
  const {from_m, to_m, ...rest} = ride;
  return {...rest, path, speed_m_s: speed, error_m: 0.5};
}
