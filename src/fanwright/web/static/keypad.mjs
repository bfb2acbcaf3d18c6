// A keypad for gloves: digits, a point, a stroke for fractions, and the units of what is measured.

import { button, el } from "./dom.mjs";
import { look } from "./look.mjs";
import { language, t } from "./words.mjs";

const KEYS = ["7", "8", "9", "⌫", "4", "5", "6", "/", "1", "2", "3", "-", "0", ".", language === "en" ? "00" : ",", "C"];
const KEY_NAMES = { "⌫": "rub out", "/": "stroke of a fraction", "-": "minus, or between whole and fraction", C: "clear" };
const SHOWN = { pressure: ["psi", "kPa", "bar"], length: ["in", "mm"], temperature: ["°F", "°C"], time: ["s"] };
const CHOSEN = { F: "degF", C: "degC" };

/** Give the units offered for a dimension, the reader's own first. */
export function unitsFor(catalogue, dimension) {
  const all = catalogue.units[dimension] ?? [];
  const wanted = SHOWN[dimension];
  const few = wanted ? all.filter((unit) => wanted.includes(unit.printed)) : all;
  const offered = few.length ? few : all;
  const said = look()[dimension];
  const own = offered.find((unit) => unit.name === (CHOSEN[said] ?? said)) ?? firstOf(dimension, offered);
  return own ? [own, ...offered.filter((unit) => unit !== own)] : [];
}

function firstOf(dimension, offered) {
  const usual = { pressure: "psi", length: "in", temperature: "degF", share: "percent" }[dimension];
  return offered.find((unit) => unit.name === usual) ?? offered[0];
}

/**
 * Make the field for a number with its keypad.
 *
 * @param {object} catalogue the rules
 * @param {object} test the test asked for
 * @param {() => void} onchange called when the text or unit changes
 * @returns {{node: Node, text: () => string, set: (text: string) => void, clear: () => void, focus: () => void}}
 */
export function keypad(catalogue, test, onchange) {
  const units = unitsFor(catalogue, test.dimension);
  let unit = units[0];
  const coarse = matchMedia("(pointer: coarse)").matches;
  const input = el("input.number", {
    type: "text",
    inputmode: coarse ? "none" : "decimal",
    autocomplete: "off",
    "aria-label": t("value of {test}", { test: test.label }),
    oninput: onchange,
  });
  const chosen = el("span.unit", { "aria-hidden": "true" }, unit?.printed ?? "");
  const pick = (one) => {
    unit = one;
    chosen.textContent = one.printed;
    unitButtons.forEach((each, index) => each.setAttribute("aria-pressed", String(units[index] === one)));
    onchange();
  };
  const unitButtons = units.map((one, index) =>
    button(one.printed, () => pick(one), { class: "key unit-key", "aria-pressed": String(index === 0) }));
  const press = (key) => {
    if (key === "C") input.value = "";
    else if (key === "⌫") input.value = input.value.slice(0, -1);
    else input.value += key;
    onchange();
  };
  const keys = el("div.keys", { role: "group", "aria-label": t("keypad") },
    ...KEYS.map((key) => button(key, () => press(key), {
      class: "key",
      "aria-label": KEY_NAMES[key] ? t(KEY_NAMES[key]) : null,
    })));
  const fractions = test.dimension === "length" ? el("p.quiet", {}, t("A fraction is typed as read: 19/64 in.")) : null;
  const row = el("div.units", { role: "group", "aria-label": t("unit") }, ...(units.length > 1 ? unitButtons : []));
  const text = () => {
    const typed = input.value.trim();
    if (!typed) return "";
    return /[^\d\s.,/+-]/.test(typed) ? typed : `${typed} ${unit?.printed ?? ""}`.trim();
  };
  const show = button(t("keys"), () => {
    keys.hidden = !keys.hidden;
    show.setAttribute("aria-expanded", String(!keys.hidden));
  }, { class: "show-keys", "aria-expanded": String(coarse) });
  keys.hidden = !coarse;
  return {
    node: el("div.keypad", {}, el("div.field", {}, input, chosen, show), row, keys, fractions),
    text,
    set(typed) {
      input.value = typed;
      onchange();
    },
    clear() {
      input.value = "";
    },
    focus: () => input.focus(),
  };
}
