// What the pages made by the server need: the chooser of language, units and theme, and what waits on this tablet.

import { by } from "./dom.mjs";
import { download } from "./lists.mjs";
import { wire } from "./look.mjs";
import { subscribe, waiting } from "./outbox.mjs";
import { localise, load, t } from "./words.mjs";

/** Show how many entries wait; pressed, they are saved as a file. */
export async function showWaiting() {
  const place = by("waiting");
  if (!place) return;
  const count = (await waiting().catch(() => [])).length;
  place.dataset.count = String(count);
  place.textContent = count === 0 ? "" : count === 1 ? t("1 entry waiting to be sent") : t("{count} entries waiting to be sent", { count });
}

await load();
localise();
wire();
by("waiting")?.addEventListener("click", download);
subscribe(showWaiting);
await showWaiting();
