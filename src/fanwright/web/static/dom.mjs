// Small helpers to make parts of a page; texts are always set as text, never as markup.

const SVG = "http://www.w3.org/2000/svg";
const NEEDLE = { good: [128, 0], watch: [66, 0], act_now: [16, 0], stand_down: [16, 1] };

/**
 * Make an element.
 *
 * @param {string} name its tag, with classes as in `p.quiet`
 * @param {object} given attributes; `onclick` and the like become listeners, null leaves one out
 * @param {...(Node|string|null)} children what it holds
 */
export function el(name, given = {}, ...children) {
  const [tag, ...classes] = name.split(".");
  const made = document.createElement(tag);
  if (classes.length) made.className = classes.join(" ");
  for (const [key, value] of Object.entries(given)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key in made && typeof value !== "string") made[key] = value;
    else made.setAttribute(key, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined && child !== false));
  return made;
}

export const button = (words, onclick, given = {}) => el("button", { type: "button", onclick, ...given }, words);

/** Find one element by its id. */
export const by = (id) => document.getElementById(id);

/** Draw the mark of a verdict: a needle against its limit. */
export function mark(verdict, given = {}) {
  const svg = document.createElementNS(SVG, "svg");
  const set = { viewBox: "0 0 28 18", class: `mark ${verdict}`, "aria-hidden": "true", ...given };
  for (const [key, value] of Object.entries(set)) svg.setAttribute(key, value);
  const ray = (degrees, near, far) => {
    const [across, up] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
    const at = (reach) => `${(14 + reach * across).toFixed(1)} ${(15.5 - reach * up).toFixed(1)}`;
    return `M${at(near)}L${at(far)}`;
  };
  const line = (d, width) => {
    const path = document.createElementNS(SVG, "path");
    path.setAttribute("d", d);
    path.setAttribute("fill", "none");
    path.setAttribute("stroke", "currentColor");
    path.setAttribute("stroke-width", width);
    svg.append(path);
  };
  line("M2.5 15.5A11.5 11.5 0 0 1 25.5 15.5Z", "1.5");
  if (verdict !== "none") line(ray(52, 11.5, 15), "1.6");
  const [needle, bar] = NEEDLE[verdict] ?? [null, 0];
  if (needle !== null) line(ray(needle, 0, 10), "2.4");
  if (bar) line("M.5 9.5H27.5", "3.2");
  return svg;
}

/** Say something to whoever listens to the page instead of seeing it. */
export function tell(words) {
  const place = by("said");
  if (place) place.textContent = words;
}

/** Bring a drawing of the server into the page. */
export function drawing(text) {
  const made = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  return document.importNode(made, true);
}
