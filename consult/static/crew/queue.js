/* Entries that wait for a link: kept in IndexedDB, one database for each membership, so that nobody else who signs in
   on this phone sees or sends them. Oldest first; an entry leaves only when the server has answered for it. */

import { _ } from "../core/words.js";
import { clockNow, serverNow } from "../core/clock.js";
import { newId } from "../core/send.js";
import { deliver } from "./deliver.js";
import { ANSWERS } from "./known.js";

const NEVER_HELD = new Set(["case", "vitals"]); // what the server always takes, however much was sent
const COUNTED = new Set(["intervention", "procedure", "change", "vitals", "phase", "note", "patch", "correction", ...ANSWERS]); // with these a page reckons on
const SENT_KEPT = 100;
const RETRY_MS = [2000, 4000, 8000, 15000, 30000];

const asked = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

export class Queue extends EventTarget {
  #store = null;
  #opened;
  #isOpen = new Promise((resolve) => { this.#opened = resolve; });
  #timer = null;
  #tries = 0;
  #busy = null;
  heldUntil = 0; // too much was sent at once: until then the server takes readings alone
  linked = true;
  signedOut = false;

  constructor(membership) {
    super();
    this.name = `crew-queue-${membership}`;
    this.membership = membership;
  }

  async open() {
    const request = indexedDB.open(this.name, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("entries", { keyPath: "order", autoIncrement: true }).createIndex("id", "id", { unique: true });
      request.result.createObjectStore("meta");
    };
    this.#store = await asked(request);
    this.#opened();
    this.dispatchEvent(new Event("opened"));
    this.changed();
    this.send();
    return this;
  }

  #table(name, mode = "readonly") {
    return this.#store.transaction(name, mode, { durability: "strict" }).objectStore(name);
  }

  /* Keep one entry, {id, kind, case, target?, data, says, group?, volume?, asks?}; the same id a second time is the same entry. True if it is
     kept; what is not is told as "not-kept", {entry}. */
  async add(entry) {
    await this.#isOpen; // a page may be pressed before
    try {
      const made = { made_at: new Date(serverNow()).toISOString(), clock: clockNow() };
      await asked(this.#table("entries", "readwrite").add({ ...entry, state: "waiting", ...made }));
    } catch (error) {
      if (error.name === "ConstraintError") return true;
      console.error(error);
      this.dispatchEvent(new CustomEvent("not-kept", { detail: { entry } }));
      return false;
    }
    this.changed();
    this.send();
    return true;
  }

  all() {
    return asked(this.#table("entries").getAll());
  }

  async waiting() {
    return (await this.all()).filter((entry) => entry.state === "waiting");
  }

  /* What was entered on this phone for a case and a page reckons with, oldest first: the newest that was sent, with its
     place in the journal, then what is kept here (`seq` null). Of what was refused only a dose counts: it was given. */
  async entered(caseId) {
    const kept = (await this.all()).filter(({ kind, state }) => COUNTED.has(kind) && (state === "waiting" || kind === "intervention"));
    const sent = (await asked(this.#table("meta").get("sent"))) ?? [];
    return [...sent, ...kept.map((entry) => ({ ...entry, seq: null }))].filter((entry) => entry.case === caseId);
  }

  async #remember({ id, kind, case: caseId, target, data, says, group, volume, asks }, { seq }) {
    const known = (await asked(this.#table("meta").get("sent"))) ?? [];
    await asked(this.#table("meta", "readwrite").put([...known, { id, kind, case: caseId, target, data, says, group, volume, asks, seq }].slice(-SENT_KEPT), "sent"));
  }

  lastSent() {
    return asked(this.#table("meta").get("last_sent"));
  }

  async forget(order) {
    await asked(this.#table("entries", "readwrite").delete(order));
    this.changed();
  }

  async again(order) {
    const entry = await asked(this.#table("entries").get(order));
    await asked(this.#table("entries", "readwrite").put({ ...entry, state: "waiting", problem: null }));
    this.#tries = 0;
    this.changed();
    this.send();
  }

  /* A refused entry becomes a note of its case: what it said, when, and why it was not taken. */
  async note({ order, case: caseId, says, who, made_at, problem }) {
    const at = `${made_at.slice(11, 16)} UTC`;
    const isKept = await this.add({ id: newId(), kind: "note", case: caseId, who, says: _("Note: {entry}", { entry: says }), data: { text: _("Entered {time}, not accepted: {entry}. Reason: {problem}", { time: at, entry: says, problem: problem.text }).slice(0, 2000) } });
    if (isKept) await this.forget(order);
  }

  changed() {
    this.dispatchEvent(new Event("change"));
  }

  /* Try now: at start, after each new entry, when the link comes back. Never two at once, in no tab. */
  send() {
    clearTimeout(this.#timer);
    this.#busy ??= this.#exclusively(() => this.#drain()).finally(() => { this.#busy = null; });
    return this.#busy;
  }

  #exclusively(work) {
    return navigator.locks ? navigator.locks.request(this.name, work) : work();
  }

  async #drain() {
    for (let waiting = await this.#due(); waiting.length; waiting = await this.#due()) {
      const outcome = await deliver(waiting, this.membership);
      this.linked = outcome.linked;
      this.signedOut = outcome.signedOut;
      for (const { entry, answer, problem } of outcome.results) await this.#settle(entry, answer, problem);
      if (outcome.wait) this.heldUntil = performance.now() + outcome.wait * 1000;
      this.changed();
      if (!outcome.results.length) return this.#later();
      this.#tries = 0;
    }
    if ((await this.waiting()).length) this.#later();
    return undefined;
  }

  get isHeld() {
    return performance.now() < this.heldUntil;
  }

  async #due() {
    const waiting = await this.waiting();
    return this.isHeld ? waiting.filter((entry) => NEVER_HELD.has(entry.kind)) : waiting;
  }

  async #settle(entry, answer, problem) {
    if (problem) {
      await asked(this.#table("entries", "readwrite").put({ ...entry, state: "refused", problem }));
    } else {
      if (COUNTED.has(entry.kind) && answer?.seq) await this.#remember(entry, answer);
      await asked(this.#table("entries", "readwrite").delete(entry.order));
      await asked(this.#table("meta", "readwrite").put(new Date(serverNow()).toISOString(), "last_sent"));
    }
    this.dispatchEvent(new CustomEvent(problem ? "refused" : "sent", { detail: { entry, answer, problem } }));
  }

  #later() {
    const wait = this.isHeld ? this.heldUntil - performance.now() : RETRY_MS[Math.min(this.#tries, RETRY_MS.length - 1)];
    this.#timer = setTimeout(() => this.send(), wait);
    this.#tries += 1;
  }
}
