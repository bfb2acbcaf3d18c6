// The list of the bay: what stands open, what waits on this tablet, and the start of a visit.

import { button, by, el, mark } from "./dom.mjs";
import { tray } from "./lists.mjs";
import { onLook } from "./look.mjs";
import { newKey, subscribe } from "./outbox.mjs";
import { showWaiting } from "./page.mjs";
import * as store from "./store.mjs";
import { missing, start as startSync, watch } from "./sync.mjs";
import { t } from "./words.mjs";

const KINDS = [["complaint", "complaint"], ["planned", "planned visit"], ["retest", "re-test"]];
const DRIVES = [["", "as known of this truck"], ["spring", "spring-on: air lets go"], ["air", "air-on: a spring lets go"]];
const VALVES = [["", "as known of this truck"], ["nc", "shuts without current"], ["no", "passes without current"]];
const VOLTS = [["", "as known of this truck"], ["12", "12 V"], ["24", "24 V"]];
const STATES = { open: "open", kept: "kept, not signed", signed: "signed", in_work: "in work", waiting_for_part: "waiting for a part", to_sign: "to sign", re_test: "re-test" };
const WORDS = { good: "good", watch: "watch", act_now: "act now", stand_down: "do not run", not_judged: "not judged" };
let key = newKey();

async function begin() {
  await store.open().catch(() => null);
  onLook(() => refresh());
  form();
  await refresh();
  document.documentElement.dataset.ready = "yes";
  startSync(() => refresh());
  subscribe(refreshTray);
  await refreshTray();
  watch(({ online, signedOut }) => {
    by("network").textContent = signedOut ? t("signed out: sign in to send") : online === false ? t("no network: the list may be old") : "";
  });
  if (missing().length) by("offline").textContent = t("This address cannot work without network: the page is not served safely. Ask the foreman for the address that begins with https.");
  if ("serviceWorker" in navigator && isSecureContext) {
    navigator.serviceWorker.register(`/worker.js?release=${encodeURIComponent(document.body.dataset.release ?? "0")}`).catch(() => null);
  }
}

async function refresh() {
  try {
    const [answer, me] = await Promise.all([fetch("/api/bay"), fetch("/api/me")]);
    if (answer.status === 401) return location.assign("/sign-in?to=/bay");
    if (me.ok) {
      const who = await me.json();
      await store.keepFact("me", who).catch(() => null);
      showWho(who);
    }
    if (answer.ok) {
      const rows = await answer.json();
      await store.keepFact("list", rows).catch(() => null);
      return list(rows);
    }
  } catch {
    by("network").textContent = t("no network: the list may be old");
  }
  return list((await store.fact("list").catch(() => null)) ?? []);
}

function list(rows) {
  if (!rows.length) return by("visits").replaceChildren(el("p", {}, t("No visit stands open.")));
  const head = ["truck", "visit", "verdict", "state", "date", "opened by"];
  by("visits").replaceChildren(el("div.scroll", { tabindex: "0", role: "region", "aria-label": t("open visits") }, el("table.rows", {},
    el("caption", {}, t("open visits")),
    el("thead", {}, el("tr", {}, ...head.map((one) => el("th", { scope: "col" }, t(one))))),
    el("tbody", {}, ...rows.map(row)))));
}

function row(one) {
  const kind = Object.fromEntries(KINDS)[one.kind] ?? one.kind;
  const open = one.number
    ? el("a.button", { href: `/bay/${one.number}` }, one.unit)
    : button(one.unit, () => begun({ key: newKey(), from_visit: one.visit }), { "aria-label": t("go on with {unit}", { unit: one.unit }) });
  return el(`tr.${one.overall ?? "not_judged"}`, {},
    el("th", { scope: "row" }, open),
    el("td", {}, t(kind)),
    el("td", {}, mark(one.overall ?? "not_judged"), " ", el("b", {}, t(WORDS[one.overall] ?? "not judged"))),
    el("td", {}, t(STATES[one.state] ?? one.state), one.waiting ? ` (${t("{count} waiting", { count: one.waiting })})` : ""),
    el("td", {}, one.date),
    el("td", {}, one.opened_by ?? ""));
}

function showWho(who) {
  const out = who.demo ? null : el("form", { method: "post", action: "/sign-out" }, el("button", { type: "submit" }, t("sign out")));
  by("who").replaceChildren(t("{name}, {role}", { name: who.name, role: t(who.role) }), who.demo ? ` · ${t("demo")}` : "", out ?? "");
}

async function refreshTray() {
  by("tray").replaceChildren(...(await tray(await store.fact("catalogue").catch(() => null))));
  await showWaiting();
}

function form() {
  const choice = (name, words, options) => {
    const select = el("select", { id: `start-${name}`, name }, ...options.map(([value, shown]) => el("option", { value }, t(shown))));
    return el("p", {}, el("label", { for: `start-${name}` }, t(words)), select);
  };
  const unit = el("input", { id: "start-unit", name: "unit", maxlength: "40", required: true });
  const said = el("ul.messages", { hidden: true });
  by("start").replaceChildren(
    el("p", {}, el("label", { for: "start-unit" }, t("truck")), unit),
    choice("kind", "kind of visit", KINDS),
    el("details", {}, el("summary", {}, t("drive and valve, where the tag says otherwise")),
      choice("grips_by", "drive", DRIVES), choice("valve", "valve", VALVES), choice("volts", "volts", VOLTS)),
    el("div", { role: "alert" }, said),
    el("p", {}, el("button.go", { type: "submit" }, t("start the visit"))));
  by("start").addEventListener("submit", (event) => {
    event.preventDefault();
    const asked = Object.fromEntries([...new FormData(by("start"))].filter(([, value]) => value));
    if (asked.volts) asked.volts = Number(asked.volts);
    begun({ key, ...asked }, said);
  });
}

async function begun(asked, said = null) {
  try {
    const answer = await fetch("/api/bay", { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(asked) });
    const told = await answer.json().catch(() => ({}));
    if (answer.ok) return location.assign(`/bay/${told.number}`);
    key = newKey(); // what was refused may be asked again otherwise
    return complain(told.messages ?? [told.detail ?? String(answer.status)], said);
  } catch {
    return complain([t("A visit can be started only with network.")], said);
  }
}

function complain(messages, said) {
  if (!said) return void (by("network").textContent = messages.join(" "));
  by("start").querySelector("details").open = true; // what is refused is most often there
  said.replaceChildren(...messages.map((one) => el("li", {}, String(one))));
  said.hidden = false;
}

begin();
