// Who has control, as it concerns whoever looks: what a colleague took from them, which of their cases ended, and what one offers
// them; on each of their pages.

import { _ } from "../core/words.js";
import { clockText } from "../core/times.js";

const own = document.body.dataset.membership;
const KEY = _("control {own}", { own }); // kept by the browser: a page that is opened later still tells what was taken
const offers = new Map();

/** Take cards: `all` that are open, or some; of what is open no more nothing is told. `live` where it has happened just now. */
export function noteControl(cards, { all = false, live = false } = {}) {
  const { mine, taken } = read();
  if (all) keepOnly(new Set(cards.map((card) => card.case)), mine, taken);
  for (const card of cards) {
    const { case: id, physician, offered } = card;
    if (taken[id]?.ended) delete taken[id]; // it goes on
    if (offered?.to.id === own) offers.set(id, card);
    else offers.delete(id);
    if (physician?.id === own) {
      mine[id] = offered?.to.name ?? true;
      delete taken[id];
    } else if (mine[id]) {
      if (physician) taken[id] = { by: physician.name, whom: whomOf(card), asked: mine[id] === physician.name, at: live ? clockText(Date.now(), false) : "" };
      delete mine[id];
    }
  }
  keep({ mine, taken });
}

/** A case has ended: who had control of it is told how and when. */
export function forgetControl(id, ended) {
  const { mine, taken } = read();
  for (const each of [mine, taken]) delete each[id];
  if (ended?.physician === own) taken[id] = { whom: ended.whom, ended: ended.state, at: clockText(Date.parse(ended.ended_at), false) };
  offers.delete(id);
  keep({ mine, taken });
}

function keepOnly(open, ...kept) {
  for (const each of kept) for (const id of Object.keys(each)) if (!open.has(id) && !each[id].ended) delete each[id];
  for (const id of offers.keys()) if (!open.has(id)) offers.delete(id);
}

const whomOf = ({ unit, patient }) => [unit.call_sign, patient?.label].filter(Boolean).join(" ");

function read() {
  return { mine: {}, taken: {}, ...JSON.parse(localStorage.getItem(KEY) ?? "{}") };
}

function keep(control) {
  const told = JSON.stringify(control);
  if (told !== localStorage.getItem(KEY)) localStorage.setItem(KEY, told);
  showTaken(control.taken);
  showOffers([...offers.values()]);
}

/** Tell who had control that a colleague has it now, or that the case has ended, until that is noted. */
function showTaken(taken) {
  const place = document.getElementById("taken");
  const told = JSON.stringify(taken);
  if (!place || place.dataset.told === told) return;
  place.dataset.told = told;
  place.hidden = !Object.keys(taken).length;
  place.querySelector("span").replaceChildren(...Object.entries(taken).map(([id, each]) =>
    Object.assign(document.createElement("a"), { href: `/cases/${id}/`, textContent: takenText(each) })));
}

/** Who has control now: as it was offered, or of their own accord. */
function takenText({ by, whom, at, asked, ended }) {
  if (ended) return ended === "handed_over" ? _("{whom} handed over at {at}", { whom, at }) : _("{whom} closed at {at}", { whom, at });
  if (asked) return _("{by} accepted control of {whom}, as you offered", { by, whom });
  return at ? _("{by} took control of {whom} from you at {at}. What you typed is kept", { by, whom, at }) : _("{by} took control of {whom} from you", { by, whom });
}

/** Say who offers what, as a way to the page where it is accepted. */
function showOffers(cards) {
  const place = document.getElementById("offers-news");
  if (!place) return;
  place.hidden = !cards.length;
  const from = [...new Set(cards.map(({ offered }) => offered.by.name))].join(", ");
  const text = cards.length ? _("{from} offers you control: {whom}. Look and accept one by one", { from, whom: cards.map(whomOf).join(", ") }) : "";
  const words = document.getElementById("offers-text");
  if (words.textContent !== text) words.textContent = text;
}

addEventListener("storage", ({ key }) => key === KEY && showTaken(read().taken)); // another page has noted it
document.querySelector("#taken button")?.addEventListener("click", () => keep({ ...read(), taken: {} }));
