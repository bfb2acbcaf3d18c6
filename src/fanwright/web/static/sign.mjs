// The last sheet of a visit: keep it, name the causes, sign it.

import { button, el } from "./dom.mjs";
import { t } from "./words.mjs";

/** Make the sheet on which a visit is kept and signed. */
export function signSheet(page) {
  const { visit, me } = page;
  const said = el("ul.messages", { hidden: true });
  const offered = visit.causes.filter((one) => one.fault !== "no_fault").slice(0, 8);
  const boxes = offered.map((one) => {
    const box = el("input", { type: "checkbox", value: one.fault });
    return [box, el("label.choice", {}, box, el("span", {}, `${one.label} · ${one.chance}`))];
  });
  const field = (id, words, given = {}) => {
    const input = el("input", { id, type: "text", autocomplete: "off", maxlength: "1000", ...given });
    return [input, el("p", {}, el("label", { for: id }, words), input)];
  };
  const [password, passwordRow] = field("sign-password", t("your password"), { type: "password", autocomplete: "current-password" });
  const [second, secondRow] = field("sign-second", t("second person, where one is needed"));
  const told = el("input", { type: "checkbox" });
  const anyway = el("input", { type: "checkbox" });
  const because = el("input", { id: "sign-because", type: "text", maxlength: "300", autocomplete: "off" });
  const anywayRow = el("div", { hidden: true },
    el("label.choice", {}, anyway, el("span", {}, t("close it anyway; the reason is kept"))),
    el("label", { for: "sign-because" }, t("reason")), because);
  const done = el("div.signed", { "aria-live": "polite" });

  const send = async (what, body) => {
    said.hidden = true;
    try {
      const answer = await fetch(`/api/bay/${visit.number}/${what}`, {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify(body),
      });
      const told = await answer.json().catch(() => ({}));
      if (answer.ok) return told;
      const messages = told.messages ?? [told.detail ?? t("the server answered {status}", { status: answer.status })];
      said.replaceChildren(...messages.map((one) => el("li", {}, String(one))));
      if (what === "sign") anywayRow.hidden = false;
    } catch {
      said.replaceChildren(el("li", {}, t("no answer from the server: a visit can be kept and signed only with network")));
    }
    said.hidden = false;
    return null;
  };
  const finish = async (what, body) => {
    if ((await page.waitingCount()) > 0) {
      said.replaceChildren(el("li", {}, t("readings of this tablet still wait to be sent: look at the tray first")));
      said.hidden = false;
      return;
    }
    const answer = await send(what, body);
    if (!answer) return;
    done.replaceChildren(
      el("p", {}, what === "sign" ? t("Signed.") : t("Kept.")),
      el("p", {}, el("a.button.go", { href: answer.pdf ?? `/visits/${answer.visit}/report.pdf` }, t("open the paper"))),
      el("p", {}, el("a.button", { href: `/visits/${answer.visit}` }, t("the kept visit"))));
    page.refresh();
  };
  const body = () => ({
    password: password.value,
    named_causes: boxes.filter(([box]) => box.checked).map(([box]) => box.value),
    driver_told: told.checked,
    ...(second.value.trim() ? { second: second.value.trim() } : {}),
    ...(anyway.checked ? { anyway: because.value.trim() || t("closed anyway") } : {}),
  });
  return el("div.sheet", {},
    el("h2", { id: "sheet-title", tabindex: "-1" }, t("Keep and sign")),
    el("p.why", {}, `${visit.overall_words}: ${visit.overall_why}`),
    ...(visit.missing.length ? [el("p.todo", {}, t("Still missing: {count} tests of this kind of visit.", { count: visit.missing.length }))] : []),
    el("fieldset", {}, el("legend", {}, t("cause named")), ...boxes.map(([, row]) => row)),
    el("label.choice", {}, told, el("span", {}, t("the driver was told"))),
    secondRow, me?.demo ? null : passwordRow, anywayRow, el("div", { role: "alert" }, said),
    el("div.do", {},
      button(t("sign"), () => finish("sign", body()), { class: "go" }),
      button(t("keep without signing"), () => finish("keep", body()))),
    done,
    el("p", {}, el("a.button", { href: `/bay/${visit.number}/report.pdf` }, t("paper as it stands"))));
}
