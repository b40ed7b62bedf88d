/* News of the case while a page is open: when its card changes, the parts of the page that show it are fetched anew. */

import { showChecks } from "./checks-notice.js";
import { setServerTime, tick } from "./crew-time.js";

const RETRY_MS = 3000;
const SILENT_MS = 12000; // ticks come every 5 s

/* Replace each `data-part` by its newest rendering; forms are never touched. */
async function refreshParts() {
  const answer = await fetch(location.href, { cache: "no-store", credentials: "same-origin", headers: { "X-Parts": "1" } });
  if (!answer.ok || answer.redirected) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const part of document.querySelectorAll("[data-part]")) {
    const newer = page.querySelector(`[data-part="${part.dataset.part}"]`);
    if (!newer && part.dataset.gone) part.textContent = part.dataset.gone;
    if (!newer || newer.innerHTML === part.dataset.was) continue;
    const focused = part.contains(document.activeElement) ? document.activeElement.getAttribute("href") : null;
    newer.dataset.was = newer.innerHTML;
    part.replaceWith(document.adoptNode(newer));
    if (focused) newer.querySelector(`[href="${focused}"]`)?.focus();
  }
  tick();
  document.dispatchEvent(new Event("parts"));
}

let wanted = false;
let busy = false;

/* Fetch the parts anew; what could not be fetched is fetched once something is heard again. */
export async function renew() {
  wanted = true;
  if (busy) return;
  busy = true;
  try {
    while (wanted) {
      wanted = false;
      await refreshParts();
    }
  } catch { wanted = true; }
  busy = false;
}

/* The live news of one case, from the seq on with which the page was made: what came before the socket, or while it was
   away, is noticed as well. A socket that says nothing any more is replaced. */
class CaseNews {
  #socket = null;
  #heard = 0;

  constructor(id, seq, link) {
    Object.assign(this, { id, seq, link });
    setInterval(() => performance.now() - this.#heard > SILENT_MS && this.connect(), 1000);
    addEventListener("online", () => this.connect());
    this.connect();
  }

  connect() {
    this.#heard = performance.now();
    this.#socket?.close();
    const socket = new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/ws/cases/${this.id}/`);
    this.#socket = socket;
    socket.addEventListener("message", ({ data }) => this.#socket === socket && this.take(JSON.parse(data)));
    socket.addEventListener("close", ({ code }) => this.#socket === socket && this.closed(code));
  }

  closed(code) {
    this.#heard = code === 4401 || code === 4403 ? Infinity : performance.now() - SILENT_MS + RETRY_MS;
  }

  take(message) {
    this.#heard = performance.now();
    if (message.server_time) setServerTime(message.server_time);
    this.link.heard();
    if (message.type === "tick") showChecks(message);
    const newest = message.seq ?? message.heads?.[this.id] ?? message.cases?.[0]?.seq ?? 0;
    const ended = message.type === "gone" || (message.type === "hello" && !message.cases.length);
    if (ended || newest > this.seq) this.moved();
    else if (wanted) renew();
    this.seq = Math.max(this.seq, newest);
  }

  moved() {
    renew();
    if (this.id === document.body.dataset.case) document.dispatchEvent(new Event("case-moved"));
  }
}

/* Listen to every open case of the unit: an order of one is decided while the page of another is open. */
export function startLive(link) {
  for (const [id, seq] of Object.entries(JSON.parse(document.body.dataset.cases))) new CaseNews(id, seq, link);
}
