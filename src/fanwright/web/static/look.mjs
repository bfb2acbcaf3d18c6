// The chooser of language, units and theme; what is chosen stands in one cookie that the server reads too.

import { button, by, el } from "./dom.mjs";
import { t } from "./words.mjs";

const COOKIE = "fanwright-look";
const YEAR_S = 31_536_000;
const CHOICES = [
  ["theme", "look", [["auto", "as the tablet"], ["light", "light"], ["dark", "dark"], ["sun", "bright sun"]]],
  ["mode", "page", [["drawing", "drawing"], ["glove", "gloves: one at a time"], ["list", "list"]]],
  ["pressure", "pressure", [["psi", "psi"], ["kPa", "kPa"], ["bar", "bar"]]],
  ["length", "length", [["in", "in"], ["mm", "mm"]]],
  ["distance", "distance", [["mi", "mi"], ["km", "km"]]],
  ["temperature", "temperature", [["F", "°F"], ["C", "°C"]]],
  ["language", "language", [["en", "English"], ["es", "español"], ["fr", "français"]]],
];
const listeners = new Set();

/** Give what is chosen, by name. */
export function look() {
  const found = document.cookie.match(/(?:^|; )fanwright-look="?([^;"]*)/);
  return Object.fromEntries(new URLSearchParams(found ? found[1] : ""));
}

/** Choose something and keep it. */
export function choose(name, value) {
  const chosen = new URLSearchParams({ ...look(), [name]: value });
  const safe = location.protocol === "https:" ? "; Secure" : "";
  document.cookie = `${COOKIE}=${chosen}; Path=/; Max-Age=${YEAR_S}; SameSite=Lax${safe}`;
  const root = document.documentElement.dataset;
  if (name === "theme") root.theme = value;
  if (name === "mode") root.mode = value;
  if (name === "language") location.reload();
  else listeners.forEach((listener) => listener(name, value));
}

/** Be told of every choice; a page without a listener is simply loaded again. */
export function onLook(listener) {
  listeners.add(listener);
}

/** Open the chooser when its button is pressed. */
export function wire() {
  by("look-button")?.addEventListener("click", open);
}

function open() {
  const dialog = el("dialog.look", { "aria-label": t("look") });
  const close = () => {
    dialog.close();
    dialog.remove();
    by("look-button").focus();
    if (!listeners.size) location.reload();
  };
  dialog.append(...CHOICES.map(group), button(t("done"), close, { class: "go" }));
  dialog.addEventListener("cancel", (event) => {
    event.preventDefault();
    close();
  });
  document.body.append(dialog);
  dialog.showModal();
}

function group([name, legend, choices]) {
  const now = look()[name] ?? (name === "language" ? document.documentElement.lang : choices[0][0]);
  return el(
    "fieldset",
    {},
    el("legend", {}, t(legend)),
    el("div.choices", {}, ...choices.map(([value, words]) => {
      const input = el("input", { type: "radio", name, value, onchange: () => choose(name, value) });
      input.checked = value === now;
      return el("label.choice", {}, input, el("span", {}, t(words)));
    })),
  );
}
