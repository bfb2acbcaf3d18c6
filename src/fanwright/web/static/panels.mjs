// What stands in the panel when no test is in hand: the lock-out, the end of the tests, a visit that is closed.

import { button, el } from "./dom.mjs";
import { LOCK_OUT } from "./sheet.mjs";
import { t } from "./words.mjs";

/** The lock-out, confirmed before anything else. */
export function lockOut(page) {
  const texts = page.visit.lock_out.cautions ?? [t(LOCK_OUT)];
  return el("div.sheet", {},
    el("p.tag", {}, t("first of all")),
    el("h2", { id: "sheet-title", tabindex: "-1" }, t("Engine off, tag on")),
    el("div.care", { role: "note" }, ...texts.map((one) => el("p", {}, one))),
    button(t("engine off, tag on: done"), () => page.enter({ kind: "lock_out", confirmed: true }), { class: "go" }));
}

/** No further test is worth its time. */
export function nothingNext(page) {
  return el("div.sheet", {},
    el("h2", { id: "sheet-title", tabindex: "-1" }, t("Nothing more is worth its time")),
    el("p.why", {}, page.visit.stop ?? t("Tap a test in the drawing to do it all the same.")));
}

/** A visit that is kept or signed. */
export function finished(page, sign) {
  const { visit } = page;
  const kept = visit.kept_visit;
  const papers = [
    el("a.button.go", { href: `/visits/${kept}/report.pdf` }, t("open the paper")),
    el("a.button", { href: `/visits/${kept}` }, t("the kept visit")),
  ];
  return el("div.sheet", {},
    el("h2", { id: "sheet-title", tabindex: "-1" }, visit.state === "signed" ? t("This visit is signed.") : t("This visit is kept.")),
    el("p.why", {}, `${visit.overall_words}: ${visit.overall_why}`),
    kept ? el("div.do", {}, ...papers) : null,
    visit.state === "kept" ? button(t("sign"), sign, { class: "go" }) : null);
}
