// The service worker: keeps the shell of the pages so that they open without network. It never keeps a user's data.
//
// A new release is fetched whole into its own cache and takes over only when no page of the old one is open, so that
// code never changes under a half-filled sheet.

const release = new URL(self.location).searchParams.get("release") ?? "0";
const CACHE = `fanwright-shell-${release}`;

self.addEventListener("install", (event) => {
  event.waitUntil(fill());
});

async function fill() {
  const answer = await fetch("/shell.json", { cache: "no-store" });
  const { files } = await answer.json();
  const cache = await caches.open(CACHE);
  await cache.addAll(files.map((file) => new Request(file, { cache: "reload" })));
}

self.addEventListener("activate", (event) => {
  event.waitUntil(tidy());
});

async function tidy() {
  const names = await caches.keys();
  const old = names.filter((name) => name.startsWith("fanwright-shell-") && name !== CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
  await self.clients.claim();
}

/** The address under which the shell is kept, or null when a request is none of its business. */
function shellOf(request) {
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return null;
  if (request.mode === "navigate") {
    if (url.pathname === "/bay" || url.pathname === "/") return "/bay";
    return /^\/bay\/\d+$/.test(url.pathname) ? "/bay/0" : null;
  }
  if (url.pathname.startsWith("/static/") || url.pathname === "/api/words") return url.pathname + url.search;
  return null;
}

self.addEventListener("fetch", (event) => {
  const shell = shellOf(event.request);
  if (shell) event.respondWith(serve(event.request, shell));
});

async function serve(request, shell) {
  const kept = await (await caches.open(CACHE)).match(shell);
  return kept ?? fetch(request);
}
