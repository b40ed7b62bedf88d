// Ages and countdowns, ticked from times that the server sent and the server's clock; nothing medical is computed here.

import { clockText, nameZone } from "./zone.js";

let offset = 0;

/** Take the server's clock from an RFC 3339 time. */
export function setServerTime(text) {
  const server = Date.parse(text);
  if (!Number.isNaN(server)) offset = server - Date.now();
}

/** The server's time now, in milliseconds. */
export const now = () => Date.now() + offset;

/** A length of time in words: 40 s, 2 min, 1 h 05 min. */
export function spanText(milliseconds) {
  const seconds = Math.max(0, Math.floor(milliseconds / 1000));
  if (seconds < 60) return `${seconds} s`;
  const minutes = Math.floor(seconds / 60);
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
}

/** A length of time where there is room for little: 40 s, 12 min, 4 h. */
const shortText = (milliseconds) => (milliseconds < 3600000 ? spanText(milliseconds) : `${Math.floor(milliseconds / 3600000)} h`);

/** A running clock: 1:50, or with hours 1:02:05. */
export function countText(milliseconds) {
  const seconds = Math.max(0, Math.floor(milliseconds / 1000));
  const parts = [Math.floor(seconds / 60) % 60, seconds % 60].map((part) => String(part).padStart(2, "0"));
  const hours = Math.floor(seconds / 3600);
  return hours ? `${hours}:${parts.join(":")}` : `${Number(parts[0])}:${parts[1]}`;
}

const dueText = (left) => (left >= 0 ? countText(left) : `late ${countText(-left)}`);
const arrivalText = (left) => (left > 0 ? `${Math.ceil(left / 60000)} min` : "time passed");

const WRITERS = {
  age: (at, time) => `${spanText(time - at)} ago`,
  ageShort: (at, time) => shortText(time - at),
  span: (at, time) => spanText(time - at),
  since: (at, time) => `${countText(time - at)} ago`,
  count: (at, time) => countText(time - at),
  due: (at, time) => dueText(at - time),
  notBefore: (at, time, { passed }) => (at > time ? `not before ${clockText(at)}` : passed),
  escalates: (at, time) => (at > time ? `in ${countText(at - time)}` : "when no physician looks"),
  until: (at, time) => arrivalText(at - time),
};
const kebab = (name) => name.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`);

/** Write every age and countdown under an element anew, and mark what has turned old; as of now, or of another time. */
export function tick(root = document, time = now()) {
  for (const [name, write] of Object.entries(WRITERS)) {
    for (const element of root.querySelectorAll(`[data-${kebab(name)}]`)) {
      const at = Date.parse(element.dataset[name]);
      const text = Number.isNaN(at) ? element.textContent : write(at, time, element.dataset);
      if (element.textContent !== text) element.textContent = text;
    }
  }
  for (const element of root.querySelectorAll("[data-stale-at]")) {
    const stale = time > Date.parse(element.dataset.staleAt);
    if (stale !== (element.dataset.fresh === "stale")) element.dataset.fresh = stale ? "stale" : "fresh";
  }
  for (const bar of root.querySelectorAll("rect[data-from]")) {
    const from = Date.parse(bar.dataset.from);
    const share = (time - from) / (Date.parse(bar.dataset.to) - from);
    bar.setAttribute("width", String(Math.round(Math.min(Math.max(share, 0), 1) * 100)));
  }
}

/** Take the page's server time and tick each second from now on. */
export function startClock() {
  setServerTime(document.body.dataset.serverTime || "");
  tick();
  setInterval(() => { tick(); nameZone(now()); }, 1000);
}
