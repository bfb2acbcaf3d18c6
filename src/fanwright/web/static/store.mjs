// What the tablet keeps by itself: entries not yet sent, their files, the last known state of each visit.
//
// An entry is "kept" only when its transaction has completed with strict durability: then a killed browser or an
// empty battery loses nothing. Tables: outbox (by order), blobs (by key), snapshots (by visit), facts (by name).

const NAME = "fanwright";
const VERSION = 1;
let opened = null;

/** Open the database; asks the browser once not to clear it when space runs short. */
export function open() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      const db = request.result;
      const outbox = db.createObjectStore("outbox", { keyPath: "order", autoIncrement: true });
      outbox.createIndex("key", "key", { unique: true });
      db.createObjectStore("blobs", { keyPath: "key" });
      db.createObjectStore("snapshots", { keyPath: "number" });
      db.createObjectStore("facts", { keyPath: "name" });
    };
    request.onsuccess = () => {
      request.result.onversionchange = () => {
        request.result.close();
        opened = null;
      };
      navigator.storage?.persist?.().catch(() => {});
      resolve(request.result);
    };
    request.onblocked = () => reject(new Error("another page holds an older store open"));
    request.onerror = () => reject(request.error);
  });
  opened.catch(() => {
    opened = null;
  });
  return opened;
}

/**
 * Do something in one transaction.
 *
 * @param {string[]} tables the tables it touches
 * @param {"readonly"|"readwrite"} mode what it does with them
 * @param {(table: (name: string) => IDBObjectStore) => (IDBRequest|undefined)} work what to do
 * @returns {Promise<any>} the result of the request that was returned, once everything is on the disk
 */
export async function transaction(tables, mode, work) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const running = db.transaction(tables, mode, mode === "readwrite" ? { durability: "strict" } : undefined);
    let request;
    running.oncomplete = () => resolve(request?.result);
    running.onabort = () => reject(running.error ?? new Error("the tablet could not keep it"));
    running.onerror = () => reject(running.error);
    try {
      request = work((name) => running.objectStore(name));
    } catch (error) {
      running.abort();
      reject(error);
    }
  });
}

/** Give the last known state of a visit, or null. */
export async function snapshot(number) {
  const found = await transaction(["snapshots"], "readonly", (table) => table("snapshots").get(number));
  return found?.visit ?? null;
}

/** Keep the state of a visit; an older one never takes the place of a newer one. */
export function keepSnapshot(number, visit) {
  return transaction(["snapshots"], "readwrite", (table) => {
    const had = table("snapshots").get(number);
    had.onsuccess = () => {
      if (had.result && had.result.visit.version > visit.version) return;
      table("snapshots").put({ number, visit });
    };
    return undefined;
  });
}

/** Give a fact kept by name (who is signed in, the rules), or null. */
export async function fact(name) {
  const found = await transaction(["facts"], "readonly", (table) => table("facts").get(name));
  return found?.value ?? null;
}

/** Keep a fact by name. */
export function keepFact(name, value) {
  return transaction(["facts"], "readwrite", (table) => table("facts").put({ name, value }));
}

/** Forget everything of the person who signs out, except what was not sent yet. */
export function dropUserData() {
  return transaction(["snapshots", "facts"], "readwrite", (table) => {
    table("snapshots").clear();
    table("facts").delete("me");
    return undefined;
  });
}
