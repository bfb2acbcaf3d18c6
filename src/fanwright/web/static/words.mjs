// Sentences of the page in the reader's language; the English text is the key, and its own translation.

let known = {};
export const language = document.documentElement.lang || "en";

/** Load the words of the reader's language; without them the page stays English. */
export async function load() {
  if (language === "en") return;
  try {
    const answer = await fetch(`/api/words?language=${language}`);
    if (answer.ok) known = await answer.json();
  } catch {
    // no network and nothing kept: English is better than nothing
  }
}

/**
 * Say something in the reader's language.
 *
 * @param {string} text the English text, with places such as `{count}`
 * @param {object} values what stands in the places
 */
export function t(text, values = {}) {
  const said = known[text] ?? text;
  return said.replace(/\{(\w+)\}/g, (whole, name) => String(values[name] ?? whole));
}

/** Put the words into what stands in the page already. */
export function localise(root = document) {
  root.querySelectorAll("[data-t]").forEach((one) => (one.textContent = t(one.dataset.t)));
  root.querySelectorAll("[data-t-label]").forEach((one) => one.setAttribute("aria-label", t(one.dataset.tLabel)));
}
