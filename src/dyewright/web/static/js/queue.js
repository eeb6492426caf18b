/* The observation queue: what was tapped at the pot is kept in the page's own database until the studio has it.

   Over plain HTTP on the local network there is no service worker and no crypto.randomUUID, so every feature is
   looked for before it is used. An entry the studio refuses is parked with the reason and shown, never dropped. */

const DATABASE = "dyewright-queue";
const STORE = "entries";

/** A version 4 identifier (RFC 9562) from getRandomValues, which plain HTTP offers too. */
export function freshId() {
  if (globalThis.crypto?.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

function asPromise(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function openDatabase() {
  const request = indexedDB.open(DATABASE, 1);
  request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "id" });
  return asPromise(request);
}

/** Entries in memory, for browsers that refuse a database (private windows): they last as long as the page. */
class MemoryStore {
  #entries = new Map();
  async put(entry) { this.#entries.set(entry.id, entry); }
  async remove(id) { this.#entries.delete(id); }
  async all() { return [...this.#entries.values()]; }
}

class DatabaseStore {
  #database;
  constructor(database) { this.#database = database; }
  #store(mode) { return this.#database.transaction(STORE, mode).objectStore(STORE); }
  put(entry) { return asPromise(this.#store("readwrite").put(entry)); }
  remove(id) { return asPromise(this.#store("readwrite").delete(id)); }
  all() { return asPromise(this.#store("readonly").getAll()); }
}

async function openStore() {
  try {
    return new DatabaseStore(await openDatabase());
  } catch {
    return new MemoryStore();
  }
}

/** Entries wait here and go to `address` in the order they were made. `changed(waiting, parked)` hears of every change,
    `sent()` when the studio has taken some. */
export class Queue {
  #address;
  #changed;
  #sent;
  #store = openStore();
  #isSending = false;
  #isAskedAgain = false; // something was added while sending

  constructor(address, { changed, sent }) {
    this.#address = address;
    this.#changed = changed;
    this.#sent = sent;
    addEventListener("online", () => this.flush());
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.flush());
    setInterval(() => this.flush(), 15000);
  }

  async #mine() {
    const entries = await (await this.#store).all();
    return entries.filter((entry) => entry.address === this.#address).sort((a, b) => a.made - b.made);
  }

  async #unsent() {
    return (await this.#mine()).filter((entry) => !entry.refused);
  }

  /** Keep an event, with its photo where there is one, and send what can be sent. */
  async add(event, photo = null) {
    await (await this.#store).put({ id: event.id, address: this.#address, made: Date.now(), event, photo });
    await this.flush();
  }

  /** Drop a parked entry: only the dyer does that, by hand. */
  async discard(id) {
    await (await this.#store).remove(id);
    await this.#tell();
  }

  /** Send what waits; quiet when the studio cannot be reached. */
  async flush() {
    if (this.#isSending) {
      this.#isAskedAgain = true;
      return;
    }
    this.#isSending = true;
    let isSent = false;
    await this.#tell();
    try {
      do {
        this.#isAskedAgain = false;
        isSent = (await this.#sendAll()) || isSent;
      } while (this.#isAskedAgain);
    } catch {
      /* no network: the entries stay, the next flush tries again */
    } finally {
      this.#isSending = false;
      await this.#tell();
    }
    if (isSent) this.#sent();
  }

  async #sendAll() {
    const entries = await this.#unsent();
    const events = entries.filter((entry) => !entry.photo).map((entry) => entry.event);
    if (events.length) await this.#settle(events, await this.#sendEvents(events));
    for (const { event, photo } of entries.filter((entry) => entry.photo)) {
      await this.#settle([event], await this.#sendPhoto(event, photo));
    }
    return entries.length > 0;
  }

  #sendEvents(events) {
    const headers = { "content-type": "application/json", accept: "application/json" };
    return fetch(this.#address, { method: "POST", headers, body: JSON.stringify({ events }) });
  }

  #sendPhoto(event, photo) {
    const body = new FormData();
    body.set("id", event.id);
    body.set("happened_at", event.happened_at);
    body.set("photo", photo);
    return fetch(`${this.#address}/photo`, { method: "POST", headers: { accept: "application/json" }, body });
  }

  /* A 5xx answer is the studio's trouble, not the entry's: it waits for the next try. */
  async #settle(events, answer) {
    const body = await answer.json().catch(() => null);
    if (answer.ok && body) {
      for (const result of body.results) {
        if (result.outcome === "refused") await this.#park(result.id, result.sentence);
        else await (await this.#store).remove(result.id);
      }
    } else if (answer.status >= 400 && answer.status < 500) {
      for (const event of events) await this.#park(event.id, body?.message ?? `The studio answered ${answer.status}.`);
    }
  }

  async #park(id, reason) {
    const entry = (await this.#mine()).find((candidate) => candidate.id === id);
    if (entry) await (await this.#store).put({ ...entry, refused: reason });
  }

  async #tell() {
    const entries = await this.#mine();
    this.#changed(entries.filter((entry) => !entry.refused), entries.filter((entry) => entry.refused));
  }
}

/** Send what an earlier visit to a pot left unsent, from whatever page is open now. */
export async function sendLeftovers() {
  const entries = await (await openStore()).all();
  for (const address of new Set(entries.map((entry) => entry.address))) {
    await new Queue(address, { changed() {}, sent() {} }).flush();
  }
}
