// The tests in the drawing: tapped with gloves, reached by arrow keys, changed before the server's drawing comes.

import { button, el, mark } from "./dom.mjs";
import { t } from "./words.mjs";

const GLOVE_PX = 32; // half of the smallest target for a glove
const UNSURE_PX = 12; // nearer than this to a second test, a glove may have meant either
const SHORT = 8; // as many letters fit below a ring

/**
 * Let the tests of a drawing be chosen.
 *
 * @param {SVGElement} svg the drawing
 * @param {(test: string) => void} choose called with the test
 * @param {(tests: string[]) => void} ask called where a glove covers several tests
 */
export function wire(svg, choose, ask) {
  const spots = [...svg.querySelectorAll(".spot")];
  spots.forEach((spot, index) => spot.setAttribute("tabindex", index ? "-1" : "0"));
  (svg.querySelector(".spot.next") ?? spots[0])?.setAttribute("tabindex", "0");
  // acted on only when the tap is over: what moves under a finger before that would be pressed by the same tap
  let touched = false;
  svg.addEventListener("pointerdown", (event) => (touched = event.pointerType === "touch"));
  svg.addEventListener("click", (event) => {
    const named = event.target.closest?.(".spot");
    if (event.detail === 0 && named) return choose(named.dataset.test); // from a screen reader
    const near = nearest(spots, event.clientX, event.clientY);
    if (!near.length) return undefined;
    const sure = near.filter(([far]) => far < near[0][0] + UNSURE_PX).length === 1;
    return touched && !sure ? ask(near.map(([, spot]) => spot.dataset.test)) : choose(near[0][1].dataset.test);
  });
  svg.addEventListener("keydown", (event) => {
    const spot = event.target.closest?.(".spot");
    if (!spot) return;
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      choose(spot.dataset.test);
    }
    const way = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowDown: [0, 1], ArrowUp: [0, -1] }[event.key];
    if (!way) return;
    event.preventDefault();
    const other = towards(spots, spot, way);
    if (!other) return;
    spot.setAttribute("tabindex", "-1");
    other.setAttribute("tabindex", "0");
    other.focus();
  });
}

function boxOf(spot) {
  return spot.querySelector(".hit").getBoundingClientRect();
}

/** Give the tests under a finger with how far off each is, the nearest first; none where nothing is near. */
function nearest(spots, x, y) {
  const away = (spot) => {
    const { left, right, top, bottom } = boxOf(spot);
    return Math.hypot(Math.max(left - x, 0, x - right), Math.max(top - y, 0, y - bottom));
  };
  return spots
    .map((spot) => [away(spot), spot])
    .filter(([far]) => far < GLOVE_PX)
    .sort(([one], [other]) => one - other)
    .slice(0, 6);
}

function towards(spots, from, [right, down]) {
  const middle = (spot) => {
    const box = boxOf(spot);
    return [box.left + box.width / 2, box.top + box.height / 2];
  };
  const [x, y] = middle(from);
  const cost = (spot) => {
    const [a, b] = middle(spot);
    const along = (a - x) * right + (b - y) * down;
    const aside = Math.abs((a - x) * down) + Math.abs((b - y) * right);
    return along > 4 ? along + 2 * aside : Infinity;
  };
  const best = spots.filter((spot) => spot !== from).sort((one, other) => cost(one) - cost(other))[0];
  return best && cost(best) < Infinity ? best : null;
}

/** Ask which of several tests a glove meant. */
export function chooser(tests, catalogue, choose) {
  return el("div.sheet", {},
    el("h2", { id: "sheet-title", tabindex: "-1" }, t("Which one?")),
    el("div.stack", {}, ...tests.map((test) =>
      button(`${catalogue.tests[test].label} · ${t("{minutes} min", { minutes: Math.round(catalogue.tests[test].minutes) })}`,
        () => choose(test)))));
}

/** Show an entry that the server has not judged yet in its place in the drawing. */
export function change(svg, test, shown, verdict, words) {
  const spot = svg.querySelector(`.spot[data-test="${CSS.escape(test)}"]`);
  if (!spot) return;
  spot.classList.add("preliminary");
  spot.dataset.verdict = verdict ?? "not_judged";
  spot.setAttribute("aria-label", `${spot.getAttribute("aria-label").split(":")[0]}: ${shown}, ${words}`);
  const slots = [...spot.querySelectorAll("[data-slot=value] text")];
  if (slots.length) {
    slots.forEach((slot, index) => (slot.textContent = index ? "" : shown));
    const word = spot.querySelector("[data-slot=word] text");
    if (word) word.textContent = words;
    const box = slots[0].getBBox();
    spot.querySelectorAll("path").forEach((path) => path.remove());
    stamp(spot, verdict, Math.max(box.x + box.width + 4, 0), box.y - 1, 21);
    if (word) word.setAttribute("x", box.x + box.width + 29);
    return;
  }
  const hit = spot.querySelector(".hit");
  const [x, y, wide] = ["x", "y", "width"].map((name) => Number(hit.getAttribute(name)));
  spot.querySelectorAll(":scope > :not(.hit)").forEach((part) => part.remove());
  stamp(spot, verdict, x + Math.min(wide, 34) / 2 - 12, y + 3, 24);
  if (shown.length <= SHORT) {
    const text = document.createElementNS(svg.namespaceURI, "text");
    for (const [name, value] of [["x", x + 17], ["y", y + 31], ["text-anchor", "middle"], ["font-size", "10.5"], ["class", "fill-ink"]]) {
      text.setAttribute(name, value);
    }
    text.textContent = shown;
    spot.append(text);
  }
}

function stamp(spot, verdict, x, y, width) {
  const made = mark(verdict ?? "not_judged", { x, y, width, height: (width * 18) / 28 });
  spot.append(made);
}
