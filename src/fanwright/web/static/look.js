// Sets theme and language from the cookie before anything is painted; runs before the page's own modules.
"use strict";
(() => {
  const found = document.cookie.match(/(?:^|; )fanwright-look="?([^;"]*)/);
  const said = new URLSearchParams(found ? found[1] : "");
  const allowed = (key, among, otherwise) => among.includes(said.get(key)) ? said.get(key) : otherwise;
  document.documentElement.dataset.theme = allowed("theme", ["auto", "light", "dark", "sun"], "auto");
  document.documentElement.lang = allowed("language", ["en", "es", "fr"], "en");
  document.documentElement.dataset.mode = allowed("mode", ["drawing", "glove", "list"], "drawing");
  // what the visit page needs first is asked for while its script is still on the way
  const visit = location.pathname.match(/^\/bay\/(\d+)$/);
  if (!visit || typeof fetch !== "function") return;
  const screen = matchMedia("(max-width: 599px)").matches ? "small" : "wide";
  const urls = [`/api/bay/${visit[1]}?screen=${screen}`, "/api/catalogue", "/api/me"];
  window.early = Object.fromEntries(urls.map((url) => [url, fetch(url).catch(() => null)]));
})();
