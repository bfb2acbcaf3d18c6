// The visit page: the drawing, the sheet of one test, and what is known so far; with network and without.

import { button, by, drawing, el, mark, tell } from "./dom.mjs";
import * as lists from "./lists.mjs";
import { choose, look, onLook, wire as wireLook } from "./look.mjs";
import { put, subscribe, waiting } from "./outbox.mjs";
import { read } from "./quantity.mjs";
import { finished, lockOut, nothingNext } from "./panels.mjs";
import { sheet } from "./sheet.mjs";
import { signSheet } from "./sign.mjs";
import * as spots from "./spots.mjs";
import * as store from "./store.mjs";
import { missing, send, start, watch } from "./sync.mjs";
import { measured, preliminary } from "./verdict.mjs";
import { load, localise, t } from "./words.mjs";

const number = Number(location.pathname.split("/")[2]);
const phone = matchMedia("(max-width: 599px)");
const page = {
  visit: null, catalogue: null, me: null, after: false, both: false, pending: [], shown: null,
  leave, readingOf, pendingOf, readable, enter, takeBack, show, refresh, waitingCount,
};

async function begin() {
  await Promise.all([load(), store.open().catch(() => null)]);
  localise();
  wireLook();
  wireKeys();
  page.catalogue = await store.fact("catalogue").catch(() => null);
  page.visit = await store.snapshot(number).catch(() => null);
  page.pending = await pendingRows();
  if (page.visit && page.catalogue) render();
  await Promise.all([refresh(), store.keepFact("open", { number }).catch(() => null)]);
  document.documentElement.dataset.ready = "yes";
  start((changed) => changed === number && refresh());
  subscribe(onOutbox);
  watch(onNetwork);
  onLook((name) => (["theme", "mode"].includes(name) ? name === "mode" && render() : refresh(true)));
  phone.addEventListener("change", () => {
    render();
    refresh();
  });
  if ("serviceWorker" in navigator && isSecureContext) {
    const release = encodeURIComponent(document.body.dataset.release ?? "0");
    navigator.serviceWorker.register(`/worker.js?release=${release}`).catch(() => null);
  }
}

/** Fetch what is asked for; null when there is no answer that can be used. */
async function fetched(url) {
  try {
    const asked = globalThis.early?.[url];
    delete globalThis.early?.[url];
    const answer = (await asked) ?? (await fetch(url));
    if (answer.status === 401 && !page.visit) location.assign(`/sign-in?to=/bay/${number}`);
    if (answer.status === 404 && url.startsWith("/api/bay/")) gone();
    return answer.ok ? await answer.json() : null;
  } catch {
    return null;
  }
}

let version = 0;
async function refresh() {
  const round = ++version;
  const [me, catalogue, visit] = await Promise.all([
    page.me ?? fetched("/api/me"),
    page.catalogue && page.fresh ? page.catalogue : fetched("/api/catalogue"),
    fetched(`/api/bay/${number}?screen=${phone.matches ? "small" : "wide"}${page.after || page.both ? "-after" : ""}`),
  ]);
  if (me && me !== page.me) await store.keepFact("me", me).catch(() => null);
  if (catalogue && catalogue !== page.catalogue) {
    page.fresh = true;
    await store.keepFact("catalogue", catalogue).catch(() => null);
  }
  if (visit) await store.keepSnapshot(number, visit).catch(() => null);
  if (round !== version) return;
  page.me = me ?? page.me;
  page.catalogue = catalogue ?? page.catalogue;
  page.visit = visit ?? page.visit;
  page.pending = await pendingRows();
  if (page.visit && page.catalogue) render();
  else nothing();
}

function gone() {
  by("panel").replaceChildren(el("p", {}, t("There is no visit {number} in the bay.", { number })), el("a.button", { href: "/bay" }, t("to the list")));
}

function nothing() {
  if (by("panel").childElementCount) return;
  by("panel").replaceChildren(el("p", {}, t("This visit was never open on this tablet and there is no network: go where there is some, once.")));
}

// what is entered and not yet known to the server -----------------------------------------------------------------

async function pendingRows() {
  const rows = await waiting(number).catch(() => []);
  const known = rows.map((row) => {
    const had = page.pending.find((one) => one.entry.key === row.entry.key);
    return had ? { ...had, ...row } : { ...row, shown: shownOf(row.entry), judged: judge(row.entry) };
  });
  return [...known, ...page.pending.filter((one) => one.state === "keeping")];
}

function shownOf(entry) {
  const outcomes = page.catalogue?.tests[entry.test]?.outcomes ?? [];
  const words = [entry.value ?? entry.why ?? entry.name ?? ""].flat();
  return words.map((one) => outcomes.find((outcome) => outcome.word === one)?.label ?? one).join(", ");
}

function judge(entry) {
  if (entry.kind !== "reading" || !page.catalogue || !page.visit) return null;
  const others = {};
  for (const one of page.visit.readings) {
    if (one.value_si === null) others[one.test] = { word: one.outcome };
    else {
      const known = page.catalogue.instruments[one.instrument] ?? page.catalogue.instruments[page.catalogue.tests[one.test]?.instrument];
      others[one.test] = { si: one.value_si, half: (known?.division_si ?? 0) / 2, spread: known?.normal_sd_si ?? 0 };
    }
  }
  for (const { entry: other } of page.pending ?? []) {
    if (other.kind === "reading" && other.key !== entry.key) others[other.test] = measured(page.catalogue, page.catalogue.tests[other.test], other) ?? others[other.test];
  }
  return preliminary(page.catalogue, entry, { ...page.visit.heading.drive, others });
}

function readable(id, typed) {
  const test = page.catalogue.tests[id];
  if (test.outcomes.some((one) => one.word === typed)) return true;
  return read(typed, page.catalogue.units[test.dimension] ?? [], page.catalogue.language) !== null;
}

const side = (one) => Boolean(one.after) === page.after;
function pendingOf(id) {
  return page.pending.filter(({ entry }) => entry.test === id && entry.kind === "reading" && side(entry));
}

/** The reading that stands in a place: after the repair only what was read after it, in the sheet and the list. */
function readingOf(id) {
  return page.visit.readings.find((one) => one.test === id && side(one));
}

async function waitingCount() {
  return (await waiting()).length;
}

async function enter(entry, blob = null, shown = null) {
  const standing = [
    ...page.visit.readings.filter((one) => one.test === entry.test && side(one)).flatMap((one) => one.keys),
    ...page.visit.not_done.filter((one) => one.test === entry.test && one.key).map((one) => one.key),
    ...page.pending.filter((one) => one.entry.test === entry.test && ["reading", "not_done"].includes(one.entry.kind) && side(one.entry)).map((one) => one.entry.key),
  ];
  const replaces = ["reading", "not_done"].includes(entry.kind) ? { replaces: standing } : {};
  const judged = judge({ ...entry, key: "" });
  if (page.shown === null && !page.held && replaces.replaces) page.shown = entry.test; // its verdict is looked at first
  // the verdict stands at once; that the entry is kept is said only when it is
  const seen = { bay: number, entry: { ...entry }, key: "", state: "keeping", messages: [], shown: shown ?? shownOf(entry), judged };
  page.pending = [...page.pending, seen];
  renderPanel();
  const words = judged ? page.catalogue.verdicts[judged.verdict] : t("kept");
  if (entry.kind === "reading") tell(t("{shown}: {verdict}, preliminary", { shown: shown ?? "", verdict: words }));
  try {
    const kept = await put(number, { ...entry, ...replaces }, blob);
    const row = { ...seen, entry: kept, key: kept.key, state: "waiting" };
    page.pending = [...page.pending.filter((one) => one !== seen && one.entry.key !== kept.key), row];
    renderEntries();
    send();
    return kept;
  } catch (error) {
    page.pending = page.pending.filter((one) => one !== seen);
    renderEntries();
    throw error;
  }
}

async function takeBack(id, keys) {
  for (const key of keys) await enter({ kind: "take_back", test: id, after: page.after, of: key });
  tell(t("taken back"));
}

async function onOutbox() {
  const before = page.pending.filter((one) => one.state !== "keeping");
  const rows = await pendingRows();
  const sent = before.filter(({ entry }) => !rows.some((row) => row.entry.key === entry.key));
  if (sent.length) {
    await refresh();
    for (const { entry } of sent) {
      if (entry.kind !== "reading") continue;
      const said = page.visit.readings.find((one) => one.test === entry.test && Boolean(one.after) === Boolean(entry.after));
      if (said) tell(t("{shown}: {verdict}", { shown: said.shown, verdict: said.verdict_words }));
    }
    return;
  }
  if (page.pending.some((one) => one.state === "keeping")) return; // shown again when it is kept
  page.pending = rows;
  renderEntries();
}

function onNetwork({ online, signedOut }) {
  const words = signedOut ? t("signed out: sign in to send") : online === false ? t("no network: readings are kept on this tablet") : "";
  by("network").textContent = words;
  if (signedOut) by("network").replaceChildren(el("a", { href: `/sign-in?to=/bay/${number}` }, words));
}

// what is seen ----------------------------------------------------------------------------------------------------

function show(id, focus = true) {
  page.shown = id;
  page.held = false;
  renderPanel();
  document.documentElement.dataset.sheet = "open";
  if (!focus) return;
  by("panel").scrollTop = 0;
  by("sheet-title")?.focus({ preventScroll: !phone.matches });
  if (!phone.matches && matchMedia("(max-width: 999px)").matches) by("panel").scrollIntoView({ block: "start" });
}

/** Show what has changed on this tablet only; the rest stands as it was. */
function renderEntries() {
  if (!page.visit || !page.catalogue) return;
  renderHead();
  renderPanel();
  requestAnimationFrame(() => {
    renderDrawing();
    renderAround();
  });
}

function render() {
  renderHead();
  renderDrawing();
  renderPanel();
  by("causes").replaceChildren(...lists.causes(page.visit));
  by("remarks").replaceChildren(...lists.remarks(page.visit, page.catalogue, show));
  renderAround();
}

function renderAround() {
  by("list").replaceChildren(...(look().mode === "list" ? [lists.table(page)] : []));
  lists.tray(page.catalogue).then((parts) => by("tray").replaceChildren(...parts));
}

function renderHead() {
  const { visit } = page;
  const { arrangement, valve, volts, odometer, engine_hours: hours, complaint } = visit.heading;
  document.title = `${visit.unit} · Fanwright`;
  by("unit").textContent = visit.unit;
  by("about").textContent = [arrangement, t("valve {does}", { does: valve }), volts, odometer, hours, complaint].filter(Boolean).join(" · ");
  by("overall").replaceChildren(mark(visit.overall), " ", el("b", {}, visit.overall_words),
    visit.overall_after ? el("span", {}, " → ", mark(visit.overall_after), " ", el("b", {}, visit.overall_after_words ?? "")) : "",
    el("span.aside", {}, t("{minutes} min so far", { minutes: Math.round(visit.minutes_so_far) })));
  by("overall").className = visit.overall;
  const count = page.pending.length;
  by("waiting").textContent = count === 0 ? t("all sent") : count === 1 ? t("1 entry waiting to be sent") : t("{count} entries waiting to be sent", { count });
  by("waiting").dataset.count = String(count);
  const after = visit.readings.some((one) => one.after);
  const pressed = (both, side) => String(both ? page.both : !page.both && page.after === side);
  if (by("sides").childElementCount === (after ? 3 : 2)) {
    [...by("sides").children].forEach((one, index) => one.setAttribute("aria-pressed", pressed(index === 2, index === 1)));
    return;
  }
  by("sides").replaceChildren(...[["before", false, false], ["after", true, false], ...(after ? [["both", false, true]] : [])].map(
    ([words, side, both]) => button(t(words === "both" ? "side by side" : words), () => {
      page.after = side;
      page.both = both;
      render();
      if (side || both) refresh();
    }, { "aria-pressed": pressed(both, side) })));
}

function locked() {
  return page.visit.lock_out.confirmed || page.pending.some(({ entry }) => entry.kind === "lock_out" && entry.confirmed);
}

let drawn = "";
let changed = new Set();
let pressing = false;
function renderDrawing() {
  if (pressing) return; // a drawing changed under a finger would swallow the tap
  const { visit } = page;
  const pick = (name) => (phone.matches ? [`svg${name}_small`, `svg${name}`] : [`svg${name}`, `svg${name}_small`]).map((one) => visit[one]).find(Boolean);
  const wanted = page.both && pick("_after") ? [pick(""), pick("_after")] : [page.after && pick("_after") ? pick("_after") : pick("")];
  const signature = `${visit.version}:${page.after}:${phone.matches}:${wanted.map((one) => one.length)}`;
  const gone = [...changed].some((key) => !page.pending.some((one) => one.entry.key === key));
  if (signature === drawn && !gone) return change();
  drawn = signature;
  changed = new Set();
  const focused = document.activeElement?.closest?.(".spot")?.dataset.test;
  by("drawing").replaceChildren(...wanted.map((text, index) => {
    const svg = drawing(text);
    const after = wanted.length > 1 ? index === 1 : page.after;
    spots.wire(svg, (test) => {
      page.after = after;
      show(test);
    }, (tests) => ask(tests, after));
    const holder = el("figure", {}, wanted.length > 1 ? el("figcaption", {}, index ? t("after") : t("before")) : "", svg);
    holder.dataset.after = String(after);
    return holder;
  }));
  by("drawing").dataset.both = String(wanted.length > 1);
  change();
  if (focused) by("drawing").querySelector(`[data-test="${focused}"]`)?.focus();
}

/** Show in the drawing what the server has not judged yet. */
function change() {
  for (const { entry, shown, judged } of page.pending) {
    if ((entry.kind !== "reading" && entry.kind !== "not_done") || !entry.key || changed.has(entry.key)) continue;
    changed.add(entry.key);
    const figure = [...by("drawing").children].find((one) => one.dataset.after === String(Boolean(entry.after)));
    const words = judged ? page.catalogue.verdicts[judged.verdict] : "";
    if (figure) spots.change(figure.querySelector("svg"), entry.test, entry.kind === "reading" ? shown : "–", judged?.verdict, words);
  }
}

function ask(tests, after) {
  page.after = after;
  page.shown = null;
  page.held = true;
  by("panel").replaceChildren(spots.chooser(tests, page.catalogue, show), el("div.do.foot", {}, button(t("none of them"), () => leave())));
  document.documentElement.dataset.sheet = "open";
  by("sheet-title").focus();
}

let paneled = "";
function renderPanel() {
  const { visit } = page;
  if (page.held) return;
  if (visit.state !== "open" && page.shown === null) return stand(`${visit.state} ${visit.version}`, () => finished(page, sign));
  if (!locked() && visit.state === "open") {
    document.documentElement.dataset.sheet = "open";
    return stand("lock-out", () => lockOut(page));
  }
  const skip = page.skip ?? 0;
  const id = page.shown ?? visit.next[Math.min(skip, visit.next.length - 1)]?.test ?? null;
  const whole = JSON.stringify([id, page.after, look()]);
  const standing = by("panel").firstElementChild;
  if (whole === paneled && standing?.dataset.sheet === (id ?? "none")) {
    standing.update?.();
    const old = standing.querySelector(":scope > .foot");
    if (!old.contains(document.activeElement)) old.replaceWith(foot());
    return;
  }
  const held = by("panel").contains(document.activeElement);
  paneled = whole;
  const node = id ? sheet(page, id) : nothingNext(page);
  node.dataset.sheet = id ?? "none";
  node.append(foot());
  by("panel").replaceChildren(node);
  if (held) by("sheet-title")?.focus({ preventScroll: true });
}

function foot() {
  const { visit } = page;
  const next = (page.skip ?? 0) + 1;
  return el("div.do.foot", {},
    page.shown ? button(t("Next test"), () => leave(), { class: page.pendingOf(page.shown).length || readingOf(page.shown) ? "go" : "close" }) : null,
    visit.next.length > 1 && !page.shown
      ? button(t("Next test"), () => {
        page.skip = next % visit.next.length;
        renderPanel();
        by("sheet-title")?.focus();
      })
      : null,
    button(t("keep and sign"), () => sign(), { class: "quiet-button" }));
}

function sign() {
  page.shown = null;
  page.held = true;
  by("panel").replaceChildren(signSheet(page), el("div.do.foot", {}, button(t("back to the next test"), () => leave(), { class: "close" })));
  document.documentElement.dataset.sheet = "open";
  by("sheet-title").focus();
}

function stand(name, make) {
  if (by("panel").firstElementChild?.dataset.sheet === name) return;
  const node = make();
  node.dataset.sheet = name;
  by("panel").replaceChildren(node);
}

function leave() {
  const was = page.shown;
  page.shown = null;
  page.held = false;
  paneled = "";
  delete document.documentElement.dataset.sheet;
  renderPanel();
  if (look().mode === "glove") return void by("sheet-title")?.focus();
  by("drawing").querySelector(`[data-test="${was ?? ""}"]`)?.focus();
}

function wireKeys() {
  by("drawing").addEventListener("pointerdown", () => (pressing = true));
  for (const name of ["pointerup", "pointercancel"]) {
    addEventListener(name, () => setTimeout(() => {
      if (!pressing) return;
      pressing = false;
      if (page.visit && page.catalogue) renderDrawing();
    }, 60));
  }
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && (page.shown || page.held) && !document.querySelector("dialog[open]")) leave();
    if (event.key === "Enter" && event.target.matches?.("input.number")) {
      event.preventDefault();
      by("panel").querySelector("button.save")?.click();
    }
  });
  by("modes").append(...[["drawing", "drawing"], ["glove", "gloves"], ["list", "list"]].map(([value, words]) =>
    button(t(words), () => {
      if (value === "glove" && page.shown) leave();
      choose("mode", value);
      marks();
    }, { "data-choose": value })));
  const marks = () => by("modes").querySelectorAll("button").forEach((one) => one.setAttribute("aria-pressed", String(one.dataset.choose === (look().mode ?? "drawing"))));
  marks();
  by("waiting").addEventListener("click", lists.download);
  if (missing().length) by("offline").textContent = t("This address cannot work without network: the page is not served safely. Ask the foreman for the address that begins with https.");
}

begin();
