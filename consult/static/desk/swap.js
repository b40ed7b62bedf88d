// Shows what the server drew anew on board and case page, part by part. What is worked on stays, and what one points at
// stays where it is: while the pointer moves over a card nothing of it gets less high, and an alert that was acknowledged
// keeps its place: else the next one would come to lie under the pointer, and a second press would take it.

import { _ } from "../core/words.js";
import { note, put, same } from "../core/parts.js";
import { call } from "../core/send.js";
import { clockText, hereText } from "../core/times.js";
import { pointsAt, shifted } from "./press.js";

const STILL_MS = 3000; // after the pointer's last movement; our choice
const LOOKS_MS = 250;
const waiting = new Map(); // of each area that is kept still, what is to be done to its containers afterward

const parts = (container) => [...container.children].filter((child) => child.dataset.part);
const areaOf = (container) => container.closest("[data-still]");
const hasFocus = (area) => area.contains(document.activeElement) && document.activeElement.matches(":focus-visible");

const heightOf = (element) => element.getBoundingClientRect().height;

/** Whether the area around a container must keep still: somebody points at it, or works in it by keyboard. */
export function keepsStill(container) {
  const area = areaOf(container);
  return Boolean(area) && (pointsAt(area, STILL_MS) || hasFocus(area));
}

/** Once nobody points at the area any more, `act`; of one container only what was asked last is done. */
export function afterward(container, act) {
  const area = areaOf(container);
  if (!waiting.has(area)) wait(area);
  waiting.get(area).set(container, act);
}

/** Nothing is left to do for a container: it shows what stands. */
const nothingAfterwards = (container) => waiting.get(areaOf(container))?.delete(container);

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

/** Whether a part is being worked on: an open form, or a request on its way. */
export const busy = (part) => part.matches("[data-busy]") || Boolean(part.querySelector("form:not([hidden]), [data-busy]"));

/** Whether somebody types into a part; what is being sent is not typed into any more: the change may well be its own. */
const typedInto = (part) => Boolean(part.querySelector("form:not([hidden], [data-busy])"));

/** Make `container` show what `fresh` holds; parts that are equal, or worked on in the same version, stay untouched.
 * Parts that were worked on but are gone stay too and are handed to `onGone`, those that changed to `onChange` with the new.
 * Under a pointer parts keep place and height; once it has left they show what stands, and `onShown` is told. */
export function swap(container, fresh, how) {
  const still = keepsStill(container);
  if (still) waitFor(container, fresh.cloneNode(true), how);
  else nothingAfterwards(container);
  if (still) keepAlarms(container, fresh);
  copyAttributes(container, fresh);
  const old = new Map(parts(container).map((part) => [part.dataset.part, part]));
  let before = null;
  for (const part of parts(fresh)) {
    const known = old.get(part.dataset.part);
    old.delete(part.dataset.part);
    before = known ? renew(known, part, how.onChange, still) : insert(container, part, before);
  }
  for (const part of old.values()) part.matches("[data-keep]") && (still || busy(part)) ? how.onGone(part) : part.remove();
  shifted();
}

function waitFor(container, fresh, how) {
  afterward(container, () => {
    for (const part of parts(container)) part.style.removeProperty("min-height");
    swap(container, fresh, how);
    how.onShown();
  });
}

function insert(container, part, before) {
  note(part);
  if (before) before.after(part);
  else container.prepend(part);
  return part;
}

function renew(known, part, onChange, still) {
  if (same(known, part)) return known;
  if (known.matches("[data-keep]") && busy(known)) {
    if ([known.dataset.version, known.dataset.newest].includes(part.dataset.version)) return known; // told already
    if (typedInto(known)) {
      onChange(known, part);
      return known;
    }
  }
  const height = still ? heightOf(known) : 0;
  put(known, part);
  if (heightOf(part) < height) part.style.minHeight = `${height}px`;
  return part;
}

const OWN = ["data-fresh", "hidden", "style"]; // of the page; without the place of a card the board would be less high for a moment

function copyAttributes(to, from) {
  for (const { name } of [...to.attributes]) if (!from.hasAttribute(name) && !OWN.includes(name)) to.removeAttribute(name);
  for (const { name, value } of from.attributes) if (to.getAttribute(name) !== value) to.setAttribute(name, value);
}

// ---- alarms keep their places

/** Let the alarms of `fresh` stand where they stand in `container`, as high as there, those that are new behind them. */
function keepAlarms(container, fresh) {
  const known = [...container.querySelectorAll(".alarm")];
  const coming = new Map([...fresh.querySelectorAll(".alarm")].map((alarm) => [alarm.dataset.alert, alarm]));
  const unmoved = known.every((alarm, place) => [...coming.keys()][place] === alarm.dataset.alert);
  const kept = known.map((alarm) => asHigh(alarm, coming.get(alarm.dataset.alert) ?? ended(alarm)));
  if (unmoved) return;
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
  copy.querySelector("small").textContent = _("no longer raised");
  if (copy.hasAttribute("data-arrest")) copy.querySelector("b").textContent = _("Cardiac arrest");
  else tell(alarm.dataset.alert, areaOf(alarm).dataset.case);
  return copy;
}

async function tell(id, of) {
  const answer = await call("GET", `/api/v1/alerts/?case=${of}`).catch(() => null);
  const alert = answer?.ok ? answer.content.results.find((each) => each.id === id) : null;
  const place = document.querySelector(`.alarm[data-ended][data-alert="${id}"] small`);
  if (!alert || !place) return;
  const { acknowledged, cleared_at: cleared, cleared_because: because } = alert;
  place.textContent = acknowledged ? _("acknowledged {acknowledged} by {by}", { acknowledged: time(acknowledged.at), by: acknowledged.by }) : _("cleared {cleared}: {because}", { cleared: time(cleared), because: hereText(because) });
}

const time = (text) => clockText(text, false);
