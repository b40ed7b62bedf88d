/* News of the case while a page is open: when its card changes, the parts of the page that show it are fetched anew. */

import { Live } from "../core/live.js";
import { parse, put, same } from "../core/parts.js";
import { call } from "../core/send.js";
import { tick } from "../core/times.js";
import { madeAnew } from "./made_for.js";

const LOOKS_MS = 10000;
const SILENCE_MS = 12000; // a poor link may be slow to say something; what gets through, the link line tells

/* Whether it is gone because of what was pressed on this page: its outcome says so. */
const isOwnPress = (part) => "once" in part.dataset && Boolean(document.querySelector(".outcome:not([hidden])"));

/* Replace each `data-part` by its newest rendering; forms are never touched. */
async function refreshParts() {
  const answer = await fetch(location.href, { cache: "no-store", credentials: "same-origin", headers: { "X-Parts": "1" } });
  if (!answer.ok || answer.redirected) return;
  const page = parse(await answer.text());
  for (const part of document.querySelectorAll("[data-part]")) {
    const newer = page.querySelector(`[data-part="${part.dataset.part}"]`);
    if (newer && !same(part, newer)) put(part, newer);
    if (!newer && part.dataset.gone && !isOwnPress(part)) part.textContent = part.dataset.gone;
  }
  tick();
  madeAnew();
  document.dispatchEvent(new Event("parts"));
}

const known = new Set(); // the cases to which this page listens
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
   away, is noticed as well. */
function listen(id, seq, link) {
  known.add(id);
  new Live(`/ws/cases/${id}/`, { silence: SILENCE_MS, onRefused: () => left(id), onMessage: (message) => {
    link.heard();
    const newest = message.seq ?? message.heads?.[id] ?? message.cases?.[0]?.seq ?? 0;
    const ended = message.type === "gone" || (message.type === "hello" && !message.cases.length);
    if (ended || newest > seq) moved(id);
    else if (wanted) renew();
    seq = Math.max(seq, newest);
  } });
}

function moved(id) {
  renew();
  if (id === document.body.dataset.case) document.dispatchEvent(new Event("case-moved"));
}

/* The patient was moved to another unit: a page without a form says where, one with a form keeps what was typed. */
function left(id) {
  if (id === document.body.dataset.case && !document.querySelector("form.entry")) location.reload();
  else moved(id);
}

/* A patient who was moved to this unit has a case that the page does not know yet. */
async function look(link) {
  if (!link.linked) return;
  const { content } = await call("GET", "/crew/who/").catch(() => ({}));
  const others = (content?.cases ?? []).filter((id) => !known.has(id));
  for (const id of others) listen(id, 0, link);
  if (others.length) renew();
}

/* Listen to every open case of the unit: an order of one is decided while the page of another is open. */
export function startLive(link) {
  setInterval(() => look(link), LOOKS_MS);
  const heardOf = ([, seq]) => seq > 0; // of a case that waits on this phone the server tells nothing yet
  for (const [id, seq] of Object.entries(JSON.parse(document.body.dataset.cases)).filter(heardOf)) listen(id, seq, link);
}
