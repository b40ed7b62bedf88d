/* News of the case while a page is open: when its card changes, the parts of the page that show it are fetched anew. */

import { showChecks } from "./checks-notice.js";
import { setServerTime, tick } from "./crew-time.js";

const RETRY_MS = 3000;

/* Replace each `data-part` by its newest rendering; forms are never touched. */
export async function refreshParts() {
  const answer = await fetch(location.href, { cache: "no-store", credentials: "same-origin", headers: { "X-Parts": "1" } });
  if (!answer.ok || answer.redirected) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const part of document.querySelectorAll("[data-part]")) {
    const newer = page.querySelector(`[data-part="${part.dataset.part}"]`);
    if (!newer || newer.innerHTML === part.dataset.was) continue;
    const focused = part.contains(document.activeElement) ? document.activeElement.getAttribute("href") : null;
    newer.dataset.was = newer.innerHTML;
    part.replaceWith(document.adoptNode(newer));
    if (focused) newer.querySelector(`[href="${focused}"]`)?.focus();
  }
  tick();
  document.dispatchEvent(new Event("parts"));
}

export function startLive(link) {
  const caseId = document.body.dataset.case;
  if (!caseId) return;
  let seq = 0;
  const connect = () => {
    const socket = new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/ws/cases/${caseId}/`);
    socket.addEventListener("message", ({ data }) => {
      const message = JSON.parse(data);
      if (message.server_time) setServerTime(message.server_time);
      link.heard();
      if (message.type === "tick") showChecks(message);
      const newest = message.seq ?? message.cases?.[0]?.seq ?? 0;
      if (message.type === "gone" || newest > seq) {
        if (seq || message.type === "gone") {
          refreshParts();
          document.dispatchEvent(new Event("case-moved"));
        }
        seq = Math.max(seq, newest);
      }
    });
    socket.addEventListener("close", ({ code }) => { if (code !== 4401 && code !== 4403) setTimeout(connect, RETRY_MS); });
  };
  connect();
}
