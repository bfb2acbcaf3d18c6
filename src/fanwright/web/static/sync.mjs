// Sends what waits, one tab at a time, and hears of changes that others make.
//
// Sent in the order of entry; files after the readings, in pieces, going on where a lost connection left off. An entry
// leaves the list only after the server has answered that it holds it. The server knows each entry by its key, so a
// lost answer is no second entry.

import { blobOf, remove, subscribe, update, waiting } from "./outbox.mjs";
import { fact } from "./store.mjs";

const EVERY_MS = 10_000;
const POLL_MS = 15_000;
const PIECE = 512 * 1024;
const PATIENCE_MS = 20_000;
const FINAL = [400, 404, 409, 413, 415, 422];
let running = null;
let again = false;
const state = { online: null, signedOut: false };
const watchers = new Set();

/** Be told whether the server answers: `{online, signedOut}`. */
export function watch(watcher) {
  watchers.add(watcher);
  watcher({ ...state });
  return () => watchers.delete(watcher);
}

function know(change) {
  if (Object.entries(change).every(([name, value]) => state[name] === value)) return;
  Object.assign(state, change);
  watchers.forEach((watcher) => watcher({ ...state }));
}

/** Whether this address can work without network at all, and if not what is missing. */
export function missing() {
  return [
    ["serviceWorker" in navigator, "worker"],
    ["locks" in navigator, "locks"],
    ["indexedDB" in globalThis, "store"],
  ]
    .filter(([there]) => !there)
    .map(([, name]) => name);
}

/**
 * Begin to send and to listen.
 *
 * @param {(number: number, version: number) => void} onVisit called when a visit has changed on the server
 */
export function start(onVisit) {
  subscribe(() => send());
  addEventListener("online", () => send());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && send());
  setInterval(() => send(), EVERY_MS);
  send();
  listen(onVisit);
}

/** Send what waits; a call while sending leads to one more round. */
export function send() {
  if (running) {
    again = true;
    return running;
  }
  running = alone("fanwright-send", round).finally(() => {
    running = null;
    if (again) {
      again = false;
      send();
    }
  });
  return running;
}

/** Let only one tab work; where the browser has no locks each tab tries, and the server's keys keep it single. */
function alone(name, work) {
  if (!navigator.locks) return work().catch(() => {});
  return navigator.locks.request(name, { ifAvailable: true }, (lock) => (lock ? work() : null)).catch(() => {});
}

async function round() {
  const rows = (await waiting()).filter((row) => row.state !== "refused");
  const typed = rows.filter((row) => row.entry.kind !== "file");
  const files = rows.filter((row) => row.entry.kind === "file");
  for (const row of [...typed, ...files]) {
    if (!(await sendOne(row))) return;
  }
}

/** Send one row; false ends the round for now. */
async function sendOne(row) {
  try {
    if (row.entry.kind === "file") {
      const kept = await blobOf(row.entry.file);
      if (kept && !(await sendFile(row, kept))) return false;
    }
    const answer = await ask(`/api/bay/${row.bay}/entries`, {
      method: "POST",
      headers: { "content-type": "application/json", "idempotency-key": row.entry.key },
      body: JSON.stringify(row.entry),
    });
    return await settle(row, answer);
  } catch {
    know({ online: false });
    return false;
  }
}

/** Act on an answer: done, refused for good, or to be tried later. */
async function settle(row, answer) {
  know({ online: true, signedOut: answer.status === 401 });
  if (answer.ok) {
    await answer.json(); // an answer that breaks off is no answer
    await remove(row);
    return true;
  }
  if (!FINAL.includes(answer.status)) {
    if (answer.status !== 403) return false;
  }
  await update({ ...row, state: "refused", messages: await reasons(answer) });
  return true;
}

async function reasons(answer) {
  try {
    const said = await answer.json();
    if (Array.isArray(said.messages) && said.messages.length) return said.messages.map(String);
  } catch {
    // the answer carries no sentences; its number has to do
  }
  return [String(answer.status)];
}

/** Send a file in pieces from where the server stands; false when it has to be tried later. */
async function sendFile(row, { blob, name, what }) {
  const key = row.entry.file;
  const about = { key, bay: row.bay, what, name, size: blob.size, sha256: await sha256(blob) };
  const first = await ask("/api/uploads", {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(about),
  });
  if (!first.ok) {
    await settle(row, first);
    return false;
  }
  let { offset } = await first.json();
  while (offset < blob.size) {
    const answer = await ask(`/api/uploads/${key}`, {
      method: "PATCH",
      headers: { "content-type": "application/octet-stream", "upload-offset": String(offset) },
      body: blob.slice(offset, offset + PIECE),
    });
    if (!answer.ok) {
      await settle(row, answer);
      return false;
    }
    ({ offset } = await answer.json());
  }
  return true;
}

async function sha256(blob) {
  if (!globalThis.crypto?.subtle) return "";
  const digest = await crypto.subtle.digest("SHA-256", await blob.arrayBuffer());
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

function ask(url, options) {
  return fetch(url, { ...options, signal: AbortSignal.timeout(PATIENCE_MS) });
}

/** Hear of changes: one tab holds the only stream and tells the others; without locks each tab asks now and then. */
function listen(onVisit) {
  const channel = "BroadcastChannel" in globalThis ? new BroadcastChannel("fanwright-visits") : null;
  channel?.addEventListener("message", ({ data }) => onVisit(data.number, data.version));
  if (!navigator.locks || !channel) {
    setInterval(async () => onVisit((await fact("open"))?.number ?? null, null), POLL_MS);
    return;
  }
  navigator.locks.request("fanwright-live", () => stream((said) => {
    onVisit(said.number, said.version);
    channel.postMessage(said);
  }));
}

/** Hold the stream for as long as this tab lives; a broken one is opened again. */
function stream(tell) {
  return new Promise(() => {
    const connect = () => {
      const source = new EventSource("/api/events");
      source.addEventListener("bay", ({ data }) => tell(JSON.parse(data)));
      source.addEventListener("open", () => {
        know({ online: true });
        send();
      });
      source.addEventListener("error", () => {
        if (source.readyState !== EventSource.CLOSED) return;
        source.close();
        setTimeout(connect, EVERY_MS);
      });
    };
    connect();
  });
}
