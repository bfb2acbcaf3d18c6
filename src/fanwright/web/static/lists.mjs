// What stands around the drawing: causes, findings, the list for desks, and the tray of what was refused.

import { button, el, mark } from "./dom.mjs";
import { exportFile, mend, refused, remove } from "./outbox.mjs";
import { t } from "./words.mjs";

const SHOWN_CAUSES = 5;

/** Draw the causes, the most likely first, each with its bar. */
export function causes(visit) {
  const rows = visit.causes.slice(0, SHOWN_CAUSES).map((one) => el("li", {},
    el("details", {},
      el("summary", {},
        el("span.name", {}, one.label),
        el("meter.bar", { min: "0", max: "1", value: String(one.probability), "aria-hidden": "true" }),
        el("b.chance", {}, one.chance)),
      one.fix ? el("p", {}, t("to mend it: {fix}", { fix: one.fix })) : null,
      ...one.for.map((text) => el("p.quiet", {}, `+ ${text}`)),
      ...one.against.map((text) => el("p.quiet", {}, `− ${text}`)))));
  return [
    el("h2", {}, t("Most likely causes"), el("span.aside", {}, t("chance it is there"))),
    rows.length ? el("ul.causes", {}, ...rows) : el("p.quiet", {}, t("nothing said yet")),
    el("p", {}, el("a.button", { href: `/bay/${visit.number}/causes` }, t("causes in full"))),
  ];
}

/** Give the findings, what is missing, and why to stop. */
export function remarks(visit, catalogue, show) {
  const parts = [];
  if (visit.stop) parts.push(el("p.stop", {}, visit.stop));
  if (visit.findings.length) {
    parts.push(el("h2", {}, t("What does not fit")), el("ul.plain", {}, ...visit.findings.map((one) => el("li", {}, one))));
  }
  if (visit.missing.length) {
    parts.push(el("h2", {}, t("Still to do for this kind of visit")), el("div.stack.few", {},
      ...visit.missing.map((test) => button(catalogue.tests[test]?.label ?? test, () => show(test)))));
  }
  return parts;
}

/** Make the list of all tests as a table, in the order of the procedure. */
export function table(page) {
  const { visit, catalogue } = page;
  const head = [t("test"), t("reading"), t("verdict"), t("limit"), t("chance"), t("by")];
  const rows = visit.plan.filter((id) => catalogue.tests[id]).map((id) => {
    const found = page.readingOf(id);
    const pending = page.pendingOf(id).at(-1);
    const skipped = visit.not_done.find((one) => one.test === id);
    const verdict = pending ? pending.judged?.verdict : found?.verdict;
    const words = pending ? catalogue.verdicts[verdict] ?? t("not judged yet") : found?.verdict_words;
    const shown = pending?.shown ?? found?.shown ?? (skipped ? t("not done: {why}", { why: skipped.why }) : "");
    return el(`tr.${visit.core.includes(id) ? "core" : "more"}`, {},
      el("th", { scope: "row" }, button(catalogue.tests[id].label, () => page.show(id), { class: "link" })),
      el("td.value", {}, shown),
      el("td", {}, ...(pending || found ? [mark(verdict ?? "not_judged"), " ", words, pending ? ` (${t("preliminary")})` : ""] : [])),
      el("td", {}, pending ? "" : found?.limit ?? ""),
      el("td", {}, pending ? "" : found?.chance ?? ""),
      el("td", {}, found?.by ?? ""));
  });
  return el("div.scroll", { tabindex: "0", role: "region", "aria-label": t("all tests") },
    el("table", {}, el("caption", {}, t("all tests")),
      el("thead", {}, el("tr", {}, ...head.map((one) => el("th", { scope: "col" }, one)))),
      el("tbody", {}, ...rows)));
}

/** Make the tray: what the server refused, to be mended, sent again, exported or thrown away. */
export async function tray(catalogue) {
  const rows = await refused();
  if (!rows.length) return [];
  return [
    el("h2", {}, t("Refused: needs a look")),
    el("ul.plain.tray", {}, ...rows.map((row) => trayRow(row, catalogue))),
    button(t("save all of it as a file"), download),
  ];
}

/** Let what waits be taken away as a file. */
export async function download() {
  const url = URL.createObjectURL(await exportFile());
  const link = el("a", { href: url, download: "fanwright-waiting.json" });
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}

function trayRow(row, catalogue) {
  const { entry } = row;
  const name = catalogue?.tests[entry.test]?.label ?? entry.name ?? entry.kind;
  const shown = [entry.value ?? entry.why ?? ""].flat().join(", ");
  const field = entry.kind === "reading" || entry.kind === "set"
    ? el("input", { type: "text", value: shown, "aria-label": t("value of {test}", { test: name }) }) : null;
  return el("li", {},
    el("p", {}, el("b", {}, name), " ", field ? "" : shown),
    ...row.messages.map((one) => el("p.refused", {}, one)),
    field,
    el("div.do", {},
      button(t("send again"), () => mend(row, field ? { value: field.value.includes(", ") ? field.value.split(", ") : field.value } : {}), { class: "go" }),
      button(t("throw away"), () => confirm(t("Throw this entry away for good?")) && remove(row))));
}
