// A chart of a pressure trace that fingers, wheel and keys can zoom: own SVG, thinned by least and most per column.
//
// Two cursors give time and pressure, and what lies between them. A single sample that stands out is never lost: each
// column of pixels shows its least and its most.

import { t } from "./words.mjs";

const NS = "http://www.w3.org/2000/svg";
const LEFT = 56;
const RIGHT = 96;
const TOP = 26;
const FOOT = 40;
const LEAST_ROWS = 4;
const ZOOM = 1.25;
const STEPS = [1, 2, 5, 10];

/** Turn the packed numbers of the server into arrays. */
export function unpack({ kind, scale, base64 }) {
  const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
  const packed = kind === "int16" ? new Int16Array(bytes.buffer) : new Uint32Array(bytes.buffer);
  return Float64Array.from(packed, (value) => value * scale);
}

function node(name, attributes = {}, text = "") {
  const made = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  if (text) made.textContent = text;
  return made;
}

/** The first index whose time is not before a moment. */
export function firstAt(times, moment) {
  let low = 0;
  let high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] < moment) low = middle + 1;
    else high = middle;
  }
  return low;
}

/**
 * Thin a line to what a screen can show: first, least, most and last of each column.
 *
 * @returns {Array<[number, number]>} points in the order of time
 */
export function thinned(times, values, from, to, columns) {
  const start = Math.max(0, firstAt(times, from) - 1);
  const end = Math.min(times.length, firstAt(times, to) + 1);
  if (end - start <= columns * 4) {
    return Array.from({ length: end - start }, (_, at) => [times[start + at], values[start + at]]);
  }
  const points = [];
  const width = (to - from) / columns;
  let at = start;
  while (at < end) {
    const column = Math.floor((times[at] - from) / width);
    const first = at;
    let least = at;
    let most = at;
    while (at < end && Math.floor((times[at] - from) / width) === column) {
      if (values[at] < values[least]) least = at;
      if (values[at] > values[most]) most = at;
      at += 1;
    }
    const kept = [...new Set([first, least, most, at - 1])].sort((one, other) => one - other);
    kept.forEach((index) => points.push([times[index], values[index]]));
  }
  return points;
}

/** Round steps for an axis. */
export function steps(low, high, wanted) {
  const raw = (high - low) / wanted;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = STEPS.map((one) => one * power).find((one) => one >= raw);
  const found = [];
  for (let index = Math.ceil(low / step - 1e-9); index * step <= high + step * 1e-9; index += 1) {
    found.push(Number((index * step).toPrecision(12)));
  }
  return found;
}

export class Chart {
  /**
   * @param {HTMLElement} place where it stands; filled with the drawing and its read-out
   * @param {object} data the answer of the server: `times`, `series`, `strokes`, `marks`, `unit`, `title`
   */
  constructor(place, data) {
    this.data = data;
    this.series = data.series.map((one) => ({ ...one, times: unpack(one.times), values: unpack(one.values) }));
    const ends = this.series.filter((one) => one.times.length).map((one) => one.times.at(-1));
    this.whole = [0, Math.max(...ends, 1e-3)];
    this.view = [...this.whole];
    this.cursors = [null, null];
    this.held = 0;
    this.fingers = new Map();
    this.range = this.pressures();
    this.svg = node("svg", { class: "chart", tabindex: 0, role: "img", "aria-label": data.title });
    this.svg.style.touchAction = "none"; // fingers zoom the chart, not the page
    this.readout = document.createElement("p");
    this.readout.className = "readout";
    this.readout.setAttribute("aria-live", "polite");
    place.replaceChildren(this.svg, this.readout);
    this.listen();
    new ResizeObserver(() => this.draw()).observe(this.svg);
    this.draw();
  }

  pressures() {
    let low = 0;
    let high = 1;
    for (const { values } of this.series) {
      for (const value of values) {
        if (value < low) low = value;
        if (value > high) high = value;
      }
    }
    return [low, high + (high - low) * 0.06];
  }

  get width() {
    return Math.max(this.svg.clientWidth, 300);
  }

  get height() {
    return Math.max(this.svg.clientHeight, 220);
  }

  x(time) {
    const [from, to] = this.view;
    return LEFT + ((time - from) / (to - from)) * (this.width - LEFT - RIGHT);
  }

  y(value) {
    const [low, high] = this.range;
    return this.height - FOOT - ((value - low) / (high - low)) * (this.height - FOOT - TOP);
  }

  time(x) {
    const [from, to] = this.view;
    return from + ((x - LEFT) / (this.width - LEFT - RIGHT)) * (to - from);
  }

  draw() {
    const { width, height, svg } = this;
    svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    const parts = [node("title", {}, this.data.title), ...this.axes(), ...this.levels()];
    for (const one of this.series) parts.push(...this.line(one));
    parts.push(...this.strokes(), ...this.drawCursors(), ...this.legend());
    svg.replaceChildren(...parts);
  }

  axes() {
    const foot = this.height - FOOT;
    const right = this.width - RIGHT;
    const parts = [node("path", { class: "axis", d: `M${LEFT} ${TOP}V${foot}H${right}` })];
    for (const value of steps(...this.range, 5)) {
      const y = this.y(value);
      parts.push(node("path", { class: "grid", d: `M${LEFT} ${y}H${right}` }));
      parts.push(node("text", { class: "tick", x: LEFT - 6, y: y + 4, "text-anchor": "end" }, String(value)));
    }
    for (const value of steps(...this.view, Math.max(3, Math.round(this.width / 130)))) {
      const x = this.x(value);
      parts.push(node("path", { class: "axis", d: `M${x} ${foot}v5` }));
      parts.push(node("text", { class: "tick", x, y: foot + 20, "text-anchor": "middle" }, String(value)));
    }
    parts.push(node("text", { class: "tick", x: LEFT, y: TOP - 5 }, this.data.unit));
    parts.push(node("text", { class: "tick", x: right + 6, y: foot + 20 }, "s"));
    return parts;
  }

  levels() {
    return this.data.marks.map(({ value, label }) => {
      const group = node("g", { class: "level" });
      const y = this.y(value);
      group.append(node("path", { d: `M${LEFT} ${y}H${this.width - RIGHT}` }));
      group.append(node("text", { x: this.width - RIGHT + 6, y: y + 4 }, label));
      return group;
    });
  }

  line(one) {
    const columns = Math.round(this.width - LEFT - RIGHT);
    const points = thinned(one.times, one.values, ...this.view, columns).filter(
      ([time]) => time >= this.view[0] - (this.view[1] - this.view[0]) && time <= this.view[1] * 2 + 1,
    );
    if (points.length < 2) return [];
    const inside = points.map(([time, value]) => {
      const x = Math.min(Math.max(this.x(time), LEFT), this.width - RIGHT);
      return `${x.toFixed(1)} ${this.y(value).toFixed(1)}`;
    });
    return [node("path", { class: `trace trace-${one.name}`, d: `M${inside.join("L")}` })];
  }

  /** What each kind of line is, with a piece of it: the same dash on paper and on the screen. */
  legend() {
    const named = new Map(this.series.map((one) => [one.name, one.label]));
    let x = LEFT + 60;
    return [...named].map(([name, label]) => {
      const group = node("g", { class: "legend" });
      group.append(node("path", { class: `trace trace-${name}`, d: `M${x} ${TOP - 9}h34` }));
      group.append(node("text", { x: x + 40, y: TOP - 5 }, label));
      x += 56 + label.length * 9;
      return group;
    });
  }

  strokes() {
    const foot = this.height - FOOT;
    return this.data.strokes
      .filter((one) => one.end !== null && one.end >= this.view[0] && one.start <= this.view[1])
      .map((one) => {
        const [from, to] = [one.start, one.end].map((time) =>
          Math.min(Math.max(this.x(time), LEFT), this.width - RIGHT),
        );
        const group = node("g", { class: `stroke stroke-${one.verdict || "none"}` });
        const y = foot - 6;
        group.append(node("path", { d: `M${from} ${y - 5}V${y + 5}M${to} ${y - 5}V${y + 5}M${from} ${y}H${to}` }));
        if (to - from > 24) {
          group.append(node("text", { x: (from + to) / 2, y: y - 9, "text-anchor": "middle" }, one.label));
        }
        group.append(node("title", {}, one.told));
        return group;
      });
  }

  drawCursors() {
    return this.cursors.flatMap((time, index) => {
      if (time === null || time < this.view[0] || time > this.view[1]) return [];
      const x = this.x(time);
      const group = node("g", { class: `cursor cursor-${index + 1}` });
      group.append(node("path", { d: `M${x} ${TOP}V${this.height - FOOT}` }));
      group.append(node("text", { x: x + 4, y: TOP + 12 }, String(index + 1)));
      return [group];
    });
  }

  /** The value of a line at a moment, straight between its neighbours; null outside it. */
  valueAt(one, time) {
    const at = firstAt(one.times, time);
    if (at >= one.times.length || (at === 0 && one.times[0] > time)) return null;
    if (at === 0) return one.values[0];
    const share = (time - one.times[at - 1]) / (one.times[at] - one.times[at - 1] || 1);
    return one.values[at - 1] + share * (one.values[at] - one.values[at - 1]);
  }

  tell() {
    const said = this.cursors.flatMap((time, index) => {
      if (time === null) return [];
      const values = this.series
        .map((one) => [one.label, this.valueAt(one, time)])
        .filter(([, value]) => value !== null)
        .map(([label, value]) => `${label} ${value.toFixed(1)} ${this.data.unit}`);
      return [`${index + 1}: ${time.toFixed(2)} s, ${values.join(", ")}`];
    });
    const [one, other] = this.cursors;
    if (one !== null && other !== null) said.push(`${t("between them")} ${Math.abs(other - one).toFixed(2)} s`);
    this.readout.textContent = said.join(" · ");
  }

  setCursor(index, time) {
    this.cursors[index] = Math.min(Math.max(time, this.whole[0]), this.whole[1]);
    this.tell();
    this.draw();
  }

  zoom(factor, around = (this.view[0] + this.view[1]) / 2) {
    const [from, to] = this.view;
    const least = (this.whole[1] - this.whole[0]) / 1e5;
    const span = Math.max((to - from) / factor, least * LEAST_ROWS);
    const share = (around - from) / (to - from);
    this.show(around - share * span, around + (1 - share) * span);
  }

  show(from, to) {
    const span = Math.min(to - from, this.whole[1] - this.whole[0]);
    const start = Math.min(Math.max(from, this.whole[0]), this.whole[1] - span);
    this.view = [start, start + span];
    this.draw();
  }

  listen() {
    const { svg } = this;
    const at = (event) => event.clientX - svg.getBoundingClientRect().left;
    svg.addEventListener(
      "wheel",
      (event) => {
        event.preventDefault();
        this.zoom(event.deltaY < 0 ? ZOOM : 1 / ZOOM, this.time(at(event)));
      },
      { passive: false },
    );
    svg.addEventListener("keydown", (event) => this.key(event));
    svg.addEventListener("pointerdown", (event) => {
      svg.setPointerCapture(event.pointerId);
      this.fingers.set(event.pointerId, at(event));
      this.moved = false;
    });
    svg.addEventListener("pointermove", (event) => this.drag(event, at(event)));
    const lift = (event) => {
      const was = this.fingers.get(event.pointerId);
      this.fingers.delete(event.pointerId);
      if (was !== undefined && !this.moved && event.type === "pointerup") this.tap(at(event));
    };
    svg.addEventListener("pointerup", lift);
    svg.addEventListener("pointercancel", lift);
  }

  tap(x) {
    this.setCursor(this.held, this.time(x));
    this.held = 1 - this.held;
  }

  drag(event, x) {
    const was = this.fingers.get(event.pointerId);
    if (was === undefined || (Math.abs(x - was) < 3 && !this.moved)) return;
    this.moved = true;
    if (this.fingers.size === 2) {
      const other = [...this.fingers].find(([id]) => id !== event.pointerId)[1];
      const [before, now] = [Math.abs(was - other), Math.abs(x - other)];
      if (before > 8 && now > 8) this.zoom(now / before, this.time((x + other) / 2));
    } else {
      const shift = this.time(was) - this.time(x);
      this.show(this.view[0] + shift, this.view[1] + shift);
    }
    this.fingers.set(event.pointerId, x);
  }

  key(event) {
    const step = (this.view[1] - this.view[0]) / 50;
    const middle = (this.view[0] + this.view[1]) / 2;
    const index = event.shiftKey ? 1 : 0;
    const acts = {
      "+": () => this.zoom(ZOOM, this.cursors[0] ?? middle),
      "=": () => this.zoom(ZOOM, this.cursors[0] ?? middle),
      "-": () => this.zoom(1 / ZOOM, this.cursors[0] ?? middle),
      0: () => this.show(...this.whole),
      Home: () => this.show(...this.whole),
      PageUp: () => this.show(this.view[0] - step * 25, this.view[1] - step * 25),
      PageDown: () => this.show(this.view[0] + step * 25, this.view[1] + step * 25),
      ArrowLeft: () => this.setCursor(index, (this.cursors[index] ?? middle) - step),
      ArrowRight: () => this.setCursor(index, (this.cursors[index] ?? middle) + step),
      Escape: () => {
        this.cursors = [null, null];
        this.tell();
        this.draw();
      },
    };
    const act = acts[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  }
}
