// The board page: takes cards from the socket, keeps them in order, counts, filters, and sets the density: who has chosen none
// sees roomy cards while two rows hold them all, else dense ones, so that nobody in need is below the screen.

import { _ } from "../core/words.js";
import { parse, remember } from "../core/parts.js";
import { startClock, tick } from "../core/times.js";
import { applyRole, startActions } from "./actions.js";
import { startBelow } from "./below.js";
import { CardOrder, Packing } from "./cards.js";
import { changed, settled } from "./kept.js";
import { checkAll, startOrderForms } from "./orders.js";
import { showLoad, showOpenBy, startAway, takeLooking } from "./people.js";
import { sound, soundArrests, startSound } from "./sound.js";
import { showHigh, startStrip } from "./strip.js";
import { swap } from "./swap.js";

const board = document.getElementById("cards");
const packing = new Packing(board);
const order = new CardOrder(board, document.getElementById("cue"), () => packing.pack());
const showBelow = startBelow(board, document.getElementById("below"));
const mine = document.body.dataset.membership;
const FILTERS = {
  all: () => true,
  needs: (card) => card.hasAttribute("data-needs"),
  mine: (card) => card.dataset.physician === mine,
  open: (card) => !card.dataset.physician,
};
let filter = "all";

const cardOf = (id) => document.getElementById(`card-${id}`);
const raisedIn = (root, priority) => root.querySelectorAll(`.alarm[data-state="raised"]${priority ? `[data-priority="${priority}"]` : ""}`);

async function take(message) {
  if (message.type === "hello") await takeAll(message);
  if (message.type === "card") await takeCard(message.case, message.seq, message.html);
  if (message.type === "gone") leave(message.case);
  if (message.type === "looking") return takeLooking(message);
  refresh();
  return undefined;
}

async function takeAll(message) {
  const ids = new Set(message.cases.map((card) => card.case));
  for (const card of order.cards()) if (!ids.has(card.dataset.case)) leave(card.dataset.case);
  for (const card of message.cases) await takeCard(card.case, card.seq, message.html?.[card.case]);
}

async function takeCard(id, seq, html) {
  const known = cardOf(id);
  if (known && Number(known.dataset.seq) >= seq && !known.hasAttribute("data-gone")) return;
  const text = html || (await fragment(id));
  const fresh = text && parse(text).querySelector(".card");
  if (!fresh || (cardOf(id) && Number(cardOf(id).dataset.seq) > Number(fresh.dataset.seq))) return;
  announce(known, fresh);
  if (known) {
    known.removeAttribute("data-gone");
    swap(known, fresh, { onGone: settled, onChange: changed, onShown: () => dress(known) });
  } else {
    board.append(fresh);
    remember(fresh);
  }
  dress(cardOf(id));
}

function dress(card) {
  applyRole(card);
  showOpenBy(card);
  tick(card);
  checkAll(card);
}

/** A card without HTML in the message is fetched as the board shows it. */
async function fragment(id) {
  const answer = await fetch(`/board/cards/${id}/`).catch(() => null);
  return answer?.ok ? answer.text() : "";
}

function leave(id) {
  const card = cardOf(id);
  if (!card) return;
  if (order.held()) card.setAttribute("data-gone", "");
  else card.remove();
}

function announce(known, fresh) {
  for (const alarm of raisedIn(fresh)) {
    const old = known?.querySelector(`[data-alert="${alarm.dataset.alert}"]`);
    if (old?.dataset.priority === alarm.dataset.priority) continue;
    const place = document.getElementById(alarm.dataset.priority === "high" ? "announce-now" : "announce");
    place.textContent = `${fresh.dataset.call}: ${alarm.querySelector(".alarm-text b").textContent}`;
  }
}

/** Everything that depends on all cards: order, counts, filter, title, sound. */
function refresh() {
  if (!order.held()) for (const card of board.querySelectorAll("[data-gone]")) card.remove();
  const cards = order.cards();
  for (const card of cards) card.hidden = !FILTERS[filter](card);
  for (const button of document.querySelectorAll("[data-filter]")) button.querySelector("b").textContent = cards.filter(FILTERS[button.dataset.filter]).length;
  showHigh(raisedIn(board, "high").length);
  soundArrests(cards.filter((card) => card.querySelector("[data-arrest]")).map((card) => card.dataset.case));
  showLoad(cards);
  document.getElementById("empty").hidden = cards.length > 0;
  const needing = cards.filter(FILTERS.needs).length;
  document.title = needing ? _("({needing}) Consult Board", { needing }) : _("Consult Board");
  order.settle();
  packing.pack();
  if (!localStorage.getItem("density") && packing.overflows(cards.length) && !order.held()) setDensity("dense", true);
  showBelow();
}

function press(buttons, chosen) {
  for (const button of buttons) button.setAttribute("aria-pressed", String(button === chosen));
}

function startFilters() {
  const buttons = [...document.querySelectorAll("[data-filter]")];
  for (const button of buttons) {
    button.addEventListener("click", () => {
      filter = button.dataset.filter;
      press(buttons, button);
      refresh();
    });
  }
}

const densities = [...document.querySelectorAll("[data-set-density]")];

/** `alone`: nobody chose it, so that is told with a way back. */
function setDensity(density, alone = false) {
  board.dataset.density = density;
  document.getElementById("made-dense").hidden = !alone;
  press(densities, densities.find((button) => button.dataset.setDensity === density));
}

function startDensity() {
  for (const button of document.querySelectorAll("[data-set-density], [data-keep-density]")) {
    button.addEventListener("click", () => {
      const density = button.dataset.setDensity ?? button.dataset.keepDensity;
      setDensity(density);
      localStorage.setItem("density", density);
    });
  }
  setDensity(localStorage.getItem("density") === "dense" ? "dense" : "roomy");
}

remember(board);
applyRole();
startClock();
startActions();
startOrderForms();
startFilters();
startDensity();
startAway();
startSound(document.getElementById("sound"));
refresh();
board.addEventListener("pointerleave", () => refresh());
let queue = Promise.resolve();
startStrip(board.dataset.socket, (message) => (queue = queue.then(() => take(message)).catch(console.error)));
const sounds = (priority) => board.querySelector(`.alarm[data-state="raised"][data-priority="${priority}"]:not([data-arrest])`);
setInterval(() => sound(["high", "medium"].find(sounds) ?? ""), 1000);
