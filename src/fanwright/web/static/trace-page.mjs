// The page of pressure traces: each is read by the server's child and drawn here.

import { Chart } from "./chart.mjs";
import { load, t } from "./words.mjs";

await load();

async function show(section) {
  const status = section.querySelector("[role=status]");
  try {
    const answer = await fetch(section.dataset.trace, { headers: { accept: "application/json" } });
    const data = await answer.json();
    if (!answer.ok) {
      status.textContent = (data.messages ?? []).join(" ") || t("the trace could not be read");
      return;
    }
    status.textContent = data.thinned ? t("thinned for the screen: the least and the most of every stretch are kept") : "";
    new Chart(section.querySelector(".chart-place"), data);
    section.querySelector(".said").replaceChildren(
      ...data.said.map((sentence) => {
        const line = document.createElement("p");
        line.textContent = sentence;
        return line;
      }),
    );
    section.dataset.shown = "yes";
  } catch {
    status.textContent = t("no network: the trace is shown when it is back");
  }
}

await Promise.all([...document.querySelectorAll("[data-trace]")].map(show));
