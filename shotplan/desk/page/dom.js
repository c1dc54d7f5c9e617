/* Elements. Text is always text: nothing here reads HTML. */
export function make(tag, props = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [key, value] of Object.entries(props)) {
    if (key.startsWith("on")) { made.addEventListener(key.slice(2), value); }
    else if (key === "class") { made.className = value; }
    else if (key in made && key !== "list") { made[key] = value; }
    else { made.setAttribute(key, value); }
  }
  made.append(...inside.filter((one) => one !== null && one !== undefined));
  return made;
}

export const byId = (name) => document.getElementById(name);

export function fill(where, ...inside) {
  where.replaceChildren(...inside.filter((one) => one !== null && one !== undefined));
}

const SVG = "http://www.w3.org/2000/svg";

/* A small drawing: paths with their class. */
export function drawing(paths, box = "0 0 28 28") {
  const made = document.createElementNS(SVG, "svg");
  made.setAttribute("viewBox", box);
  made.setAttribute("aria-hidden", "true");
  for (const [d, kind] of paths) {
    const path = document.createElementNS(SVG, "path");
    path.setAttribute("d", d);
    path.setAttribute("class", kind);
    made.append(path);
  }
  return made;
}

/* A number as people type it, with comma or point; undefined: none; NaN: no number. */
export function number(text) {
  const said = text.trim().replace(",", ".");
  return said === "" ? undefined : Number(said);
}

export const chip = (word) => make("b", {class: "chip " + (word || "none")},
  word === "no-go" ? "✕ no-go" : word || "…");

export const letter = (index) =>
  (index >= 26 ? letter(Math.floor(index / 26) - 1) : "") + "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[index % 26];
