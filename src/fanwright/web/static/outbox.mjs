// Entries on their way to the server. Nothing leaves this list but by an answer of the server, or by hand.

import { fact, transaction } from "./store.mjs";

const CHANNEL = "fanwright-outbox";
const listeners = new Set();
const channel = "BroadcastChannel" in globalThis ? new BroadcastChannel(CHANNEL) : null;
channel?.addEventListener("message", () => listeners.forEach((listener) => listener()));

/** Tell this tab and the others that the list has changed. */
export function changed() {
  listeners.forEach((listener) => listener());
  channel?.postMessage("changed");
}

/** Be told of every change, also of those made in other tabs; gives back what ends it. */
export function subscribe(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** A random name; `crypto.randomUUID` is missing where the address is not secure. */
export function newKey() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/** This moment with the tablet's own offset, to the second. */
export function now(moment = new Date()) {
  const away = -moment.getTimezoneOffset();
  const two = (value) => String(Math.trunc(Math.abs(value))).padStart(2, "0");
  const local = new Date(moment.getTime() + away * 60000).toISOString().slice(0, 19);
  return `${local}${away < 0 ? "-" : "+"}${two(away / 60)}:${two(away % 60)}`;
}

/**
 * Keep an entry to be sent. Resolves only when it is safely on the tablet.
 *
 * @param {number} bay the visit
 * @param {object} entry what was entered, without key, time and author
 * @param {Blob|null} blob a photo, recording or the like that belongs to it
 * @returns {Promise<object>} the entry as it will be sent
 */
export async function put(bay, entry, blob = null) {
  const me = (await fact("me")) ?? {};
  const author = { author: me.name ?? "", author_token: me.author_token ?? "", device: me.device ?? "" };
  const whole = { ...entry, ...author, key: newKey(), at: now() };
  if (blob) whole.file = newKey();
  await transaction(["outbox", "blobs"], "readwrite", (table) => {
    if (blob) table("blobs").add({ key: whole.file, blob, name: entry.name ?? "", what: entry.what ?? "" });
    table("outbox").add({ key: whole.key, bay, entry: whole, state: "waiting", messages: [] });
    return undefined;
  });
  changed();
  return whole;
}

/** Give everything not sent yet, oldest first; of one visit, or of all. */
export async function waiting(bay = null) {
  const all = await transaction(["outbox"], "readonly", (table) => table("outbox").getAll());
  return bay === null ? all : all.filter((one) => one.bay === bay);
}

/** Give what the server refused and somebody has to look at. */
export async function refused() {
  return (await waiting()).filter((one) => one.state === "refused");
}

/** Write a row back if it is still there: another tab may have sent it meanwhile. */
export function update(row) {
  return transaction(["outbox"], "readwrite", (table) => {
    const had = table("outbox").get(row.order);
    had.onsuccess = () => {
      if (had.result) table("outbox").put(row);
    };
    return undefined;
  }).then(changed);
}

/** Take a row off the list: the server has it, or somebody threw it away on purpose. */
export function remove(row) {
  return transaction(["outbox", "blobs"], "readwrite", (table) => {
    table("outbox").delete(row.order);
    if (row.entry.kind === "file") table("blobs").delete(row.entry.file);
    return undefined;
  }).then(changed);
}

/**
 * Put a refused entry right and send it again, under a new key: the old one stays what it was.
 *
 * @param {object} row a row of `refused()`
 * @param {object} changes what is different, such as `{value: "2.1 s"}`
 */
export function mend(row, changes = {}) {
  const entry = { ...row.entry, ...changes, key: newKey() };
  return update({ ...row, key: entry.key, entry, state: "waiting", messages: [] });
}

/** Everything not sent, as a file: what is typed as text, what was photographed or recorded beside it. */
export async function exportFile() {
  const rows = await waiting();
  const entries = [];
  for (const { bay, entry, state, messages } of rows) {
    const { author_token: secret, ...open } = entry;
    const kept = entry.kind === "file" ? await blobOf(entry.file) : null;
    entries.push({ bay, state, messages, entry: open, bytes: kept ? await asDataUrl(kept.blob) : undefined });
  }
  const text = JSON.stringify({ made: now(), entries }, null, 1);
  return new Blob([text], { type: "application/json" });
}

/** Give a kept file, or null. */
export async function blobOf(key) {
  return (await transaction(["blobs"], "readonly", (table) => table("blobs").get(key))) ?? null;
}

function asDataUrl(blob) {
  return new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.onload = () => resolve(reader.result);
    reader.onerror = () => reject(reader.error);
    reader.readAsDataURL(blob);
  });
}
