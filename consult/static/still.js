// What one points at stays where it is. While the pointer moves over a card nothing of it gets less high, and an alert that
// was acknowledged keeps its place: else the next one would come to lie under the pointer, and a second press would take it.

import { pointsAt } from "./press.js";
import { clockText, hereText } from "./zone.js";

const STILL_MS = 3000; // after the pointer's last movement; our choice
const LOOKS_MS = 250;
const waiting = new Map(); // of each area that is kept still, what is to be done to its containers afterwards

const areaOf = (container) => container.closest("[data-still]");
const hasFocus = (area) => area.contains(document.activeElement) && document.activeElement.matches(":focus-visible");

/** How high an element stands on the page, in px. */
export const heightOf = (element) => element.getBoundingClientRect().height;

/** Whether the area around a container must keep still: somebody points at it, or works in it by keyboard. */
export function keepsStill(container) {
  const area = areaOf(container);
  return Boolean(area) && (pointsAt(area, STILL_MS) || hasFocus(area));
}

/** Once nobody points at the area any more, `act`; of one container only what was asked last is done. */
export function afterwards(container, act) {
  const area = areaOf(container);
  if (!waiting.has(area)) wait(area);
  waiting.get(area).set(container, act);
}

/** Nothing is left to do for a container: it shows what stands. */
export const nothingAfterwards = (container) => waiting.get(areaOf(container))?.delete(container);

function wait(area) {
  const acts = new Map();
  waiting.set(area, acts);
  const timer = setInterval(() => {
    if (area.isConnected && keepsStill(area)) return;
    clearInterval(timer);
    waiting.delete(area);
    for (const act of acts.values()) act();
  }, LOOKS_MS);
}

/** Let the alarms of `fresh` stand where they stand in `container`, as high as there, those that are new behind them. */
export function keepAlarms(container, fresh) {
  const known = [...container.querySelectorAll(".alarm")];
  const coming = new Map([...fresh.querySelectorAll(".alarm")].map((alarm) => [alarm.dataset.alert, alarm]));
  const same = known.every((alarm, place) => [...coming.keys()][place] === alarm.dataset.alert);
  const kept = known.map((alarm) => asHigh(alarm, coming.get(alarm.dataset.alert) ?? ended(alarm)));
  if (same) return;
  for (const alarm of known) coming.delete(alarm.dataset.alert);
  const fold = container.querySelector(".alarm-more");
  const folded = kept.filter((alarm, place) => fold?.contains(known[place]));
  fresh.querySelector(".alarm-more")?.remove();
  fresh.querySelector("[data-part]").after(...kept.filter((alarm) => !folded.includes(alarm)), ...coming.values(), ...refolded(fold, folded));
}

function refolded(fold, alarms) {
  if (!fold) return [];
  const copy = fold.cloneNode(false);
  copy.append(fold.querySelector("summary").cloneNode(true), ...alarms);
  return [copy];
}

function asHigh(known, alarm) {
  const changes = known.dataset.state !== alarm.dataset.state || known.style.minHeight;
  if (changes && heightOf(known)) alarm.style.minHeight = known.style.minHeight || `${heightOf(known)}px`;
  return alarm;
}

/** What stands in the place of an alarm that has left the card: the same without its button, and what became of it. */
function ended(alarm) {
  const copy = alarm.cloneNode(true);
  if (copy.hasAttribute("data-ended")) return copy;
  copy.setAttribute("data-ended", "");
  copy.dataset.state = "acknowledged";
  copy.querySelector(".btn")?.remove();
  copy.querySelector("small").textContent = "no longer raised";
  tell(alarm.dataset.alert, areaOf(alarm).dataset.case);
  return copy;
}

async function tell(id, of) {
  const answer = await fetch(`/api/v1/alerts/?case=${of}`).catch(() => null);
  const alert = answer?.ok ? (await answer.json()).results.find((each) => each.id === id) : null;
  const place = document.querySelector(`.alarm[data-ended][data-alert="${id}"] small`);
  if (!alert || !place) return;
  const { acknowledged, cleared_at: cleared, cleared_because: because } = alert;
  place.textContent = acknowledged ? `acknowledged ${time(acknowledged.at)} by ${acknowledged.by}` : `cleared ${time(cleared)}: ${hereText(because)}`;
}

const time = (text) => clockText(Date.parse(text), false);
