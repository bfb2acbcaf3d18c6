// Nobody is signed in on this page, so what was kept of the last user's visits goes; entries not yet sent stay.

import { dropUserData, open } from "./store.mjs";

document.documentElement.dataset.dropped = "no";
try {
  await open();
  await dropUserData();
  document.documentElement.dataset.dropped = "yes";
} catch {
  // a browser that keeps nothing has nothing to drop
  document.documentElement.dataset.dropped = "nothing";
}
