// The sheet of one test: what to do, the caution in full, the ways to answer, and what was answered so far.

import { button, el, mark, tell } from "./dom.mjs";
import { keypad } from "./keypad.mjs";
import { INSTRUMENT, TIMED, timer } from "./timer.mjs";
import { attachments } from "./attach.mjs";
import { t } from "./words.mjs";

const REASONS = ["no tool for it", "cannot be reached", "not safe now", "not fitted to this truck"];
const LISTS = { places: ["place", "another place"], trials: ["trial", "another trial"], repeats: ["repeat", "repeat"] };

export const LOCK_OUT = "Park, set the brake, chock the wheels, select neutral and take the key out; disable everything that starts the engine by itself; hang a tag on the wheel and the battery switch; then try to start before you reach in.";

/** Give the cautions of a test in an arrangement, each once; the lock-out, which was confirmed before, last. */
export function cautionsOf(test, next, drive) {
  const own = test.cautions.filter((one) =>
    (one.grips_by === null || one.grips_by === drive.grips_by) && (one.valve === null || one.valve === drive.valve));
  const texts = [...new Set([...own.map((one) => one.text), ...(next?.cautions ?? [])])];
  const lock = t(LOCK_OUT); // confirmed before, so what is new at this step stands first
  return [...texts.filter((one) => one !== lock), ...texts.filter((one) => one === lock)];
}

/**
 * Make the sheet of a test.
 *
 * @param {object} page the page: `visit`, `catalogue`, `after`, `pendingOf(test)`, `enter(entry, blob)`, `show(test)`
 * @param {string} id the test
 * @returns {Node}
 */
export function sheet(page, id) {
  const { visit, catalogue, after } = page;
  const test = catalogue.tests[id];
  const rank = visit.next.findIndex((one) => one.test === id);
  const next = rank >= 0 ? visit.next[rank] : null;
  const node = el("div.sheet", { "data-sheet": id });
  node.append(head(page, test, next, rank), ...care(test, next, visit), el("p.how", {}, test.how));
  const answer = answers(page, id, test);
  node.append(answer.node, so_far(page, id), cannot(page, id), attachments(page, id));
  // what is being typed or timed stays when something else changes
  node.update = () => node.querySelector(":scope > .so-far").replaceWith(so_far(page, id));
  if (after) node.prepend(el("p.after-tag", {}, t("after the repair")));
  return node;
}

function head(page, test, next, rank) {
  const minutes = t("{minutes} min", { minutes: Math.round(next?.minutes ?? test.minutes) });
  const worth = next?.worth_usd ? t("worth {usd} USD", { usd: Math.round(next.worth_usd) }) : null;
  const tag = rank === 0 ? t("next") : rank > 0 ? t("worth doing, number {rank}", { rank: rank + 1 }) : t("test");
  return el("div", {},
    el("div.sheet-head", {},
      el("div", {},
        el("p.tag", {}, [tag, minutes, worth].filter(Boolean).join(" · ")),
        el("h2", { id: "sheet-title", tabindex: "-1" }, test.label)),
      page.shown ? button("✕", () => page.leave(), { "aria-label": t("close") }) : null),
    next ? el("p.why", {}, next.why) : null,
    el("p.quiet", {}, [test.state, test.taken_apart, test.tools].filter(Boolean).join(" · ")));
}

function care(test, next, visit) {
  const texts = cautionsOf(test, next, visit.heading.drive);
  const gates = next?.gates ? [next.gates] : [];
  if (!texts.length && !gates.length) return [];
  return [el("div.care", { role: "note", "aria-label": t("caution") }, ...[...gates, ...texts].map((one) => el(one === t(LOCK_OUT) ? "p.lock" : "p", {}, one)))];
}

function answers(page, id, test) {
  const node = el("div.answers");
  const words = el("div.outcomes", { role: "group", "aria-label": t("what was found") });
  words.append(...test.outcomes.map((outcome) =>
    button(outcome.label, () => save(outcome.word, undefined, outcome.label), { class: "outcome", "data-word": outcome.word })));
  const list = [];
  let timed = false;
  let saving = false;
  const pad = test.dimension ? keypad(page.catalogue, test, () => refresh()) : null;
  const chips = el("ol.chips");
  const keep = button(t("save reading"), () => saveTyped(), { class: "go save" });
  const refused = el("p.refused", { role: "alert" });

  async function save(value, instrument, shown) {
    if (saving) return;
    saving = true;
    try {
      await page.enter({ kind: "reading", test: id, after: page.after, value, ...(instrument ? { instrument } : {}) }, null, shown);
      clear();
    } catch (error) {
      refused.textContent = t("not kept: {why}", { why: String(error?.message ?? error) });
    } finally {
      saving = false;
    }
  }

  function saveTyped() {
    const typed = pad.text();
    const values = typed ? [...list, typed] : [...list];
    if (!values.length) return say(t("type what was read, or press what was found"));
    const bad = values.find((one) => !page.readable(id, one));
    if (bad !== undefined) return say(t("{typed} cannot be read: give a number and its unit", { typed: bad }));
    save(values.length === 1 ? values[0] : values, timed ? INSTRUMENT : undefined, values.join(", "));
  }

  function clear() {
    list.length = 0;
    timed = false;
    pad?.clear();
    refresh();
  }

  function say(words) {
    refused.textContent = words;
    tell(words);
  }

  function refresh() {
    refused.textContent = "";
    chips.replaceChildren(...list.map((one, index) => el("li", {}, button(`${one}  ✕`, () => {
      list.splice(index, 1);
      refresh();
    }, { "aria-label": t("take out {value}", { value: one }) }))));
    chips.hidden = !list.length;
  }

  function more() {
    const typed = pad.text();
    if (!typed) return pad.focus();
    if (!page.readable(id, typed)) return say(t("{typed} cannot be read: give a number and its unit", { typed }));
    list.push(typed);
    pad.clear();
    refresh();
  }

  node.append(words);
  if (pad) {
    if (TIMED.includes(id)) {
      node.append(timer(id, (text) => {
        if (timed && pad.text()) more();
        timed = true;
        pad.set(text.replace(/ s$/, ""));
      }));
    }
    const again = test.list_means ? LISTS[test.list_means] : null;
    node.append(pad.node, chips, el("div.do", {}, keep, again ? button(t(again[1]), more, { class: "more" }) : null));
  }
  node.append(refused);
  refresh();
  return { node, focus: () => (test.outcomes.length && !pad ? words.querySelector("button")?.focus() : pad?.focus()) };
}

function so_far(page, id) {
  const node = el("div.so-far", { "aria-live": "polite" });
  const pending = page.pendingOf(id).at(-1);
  const found = page.readingOf(id);
  if (pending) {
    const { verdict, reason, todo } = pending.judged ?? {};
    node.append(verdictLine(pending.shown, verdict, page.catalogue, t("preliminary, on this tablet")));
    if (reason) node.append(el("p.reason", {}, reason));
    if (todo) node.append(el("p.todo", {}, todo));
    node.append(el("p.quiet", {}, pending.state === "refused" ? t("refused: see the tray") : pending.state === "keeping" ? t("being kept …") : t("kept here, waiting to be sent")));
    return node;
  }
  const skipped = page.visit.not_done.find((one) => one.test === id);
  if (skipped) {
    node.append(el("p", {}, t("not done: {why}", { why: skipped.why })));
    if (skipped.key) node.append(button(t("take back"), () => page.takeBack(id, [skipped.key])));
  }
  if (!found) return node;
  node.append(verdictLine(found.shown, found.verdict, page.catalogue, limits(found), found.verdict_words));
  node.append(el("p.reason", {}, found.why));
  if (found.todo) node.append(el("p.todo", {}, found.todo));
  if (found.repeat) node.append(el("p.todo", {}, t("Not sure enough: repeat it.")));
  const told = [found.each.length > 1 ? found.each.join(", ") : "", found.by, short(found.at), source(found)];
  node.append(el("p.quiet", {}, told.filter(Boolean).join(" · ")));
  for (const other of found.others) {
    node.append(el("p.quiet", {}, t("also read: {shown} ({by})", { shown: other.shown, by: other.by || other.source })));
  }
  if (found.keys.length && page.visit.state === "open") node.append(button(t("take back"), () => page.takeBack(id, found.keys)));
  return node;
}

function limits(found) {
  return [
    found.watch_limit && found.watch_limit !== found.limit ? t("watch from {limit}", { limit: found.watch_limit }) : "",
    found.limit ? t("limit {limit}", { limit: found.limit }) : "",
    found.chance ? t("chance {chance}", { chance: found.chance }) : "",
  ].filter(Boolean).join(" · ");
}

function source(found) {
  return { trace: t("from the pressure trace"), recording: t("from the recording"), sound: t("from the sound") }[found.source] ?? "";
}

const short = (at) => (at?.match(/T?(\d\d:\d\d)/) ?? [])[1] ?? "";

function verdictLine(shown, verdict, catalogue, aside, words = null) {
  return el(`p.verdict.${verdict ?? "not_judged"}`, {},
    el("b.value", {}, shown), " ", mark(verdict ?? "not_judged"), " ",
    el("b.word", {}, words ?? catalogue.verdicts[verdict] ?? t("not judged yet")),
    aside ? el("span.aside", {}, aside) : null);
}

function cannot(page, id) {
  const why = el("input", { type: "text", maxlength: "200", autocomplete: "off", id: "why-not" });
  const store = (reason) => reason.trim() && page.enter({ kind: "not_done", test: id, after: page.after, why: reason.trim() }, null, reason);
  return el("details.cannot", {}, el("summary", {}, t("cannot do this: why")),
    el("div.outcomes", {}, ...REASONS.map((one) => button(t(one), () => store(t(one))))),
    el("label", { for: "why-not" }, t("another reason")), why,
    button(t("save reason"), () => (why.value.trim() ? store(why.value) : why.focus())));
}
