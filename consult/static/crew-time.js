/* Times for the eye: clocks, ages that run on, countdowns. The server's clock decides, as far as it is known. */

import { serverNow, setServerTime } from "./crew-clock.js";
import { clockText, nameZone } from "./zone.js";

export { serverNow, setServerTime };

/* 03:14:20, in the time zone of the agency. */
export const clock = (time) => clockText(new Date(time).getTime());

/* "40 s", "2 min", "1 h 05 min" for a length of time in ms. */
export function lengthText(ms) {
  const seconds = Math.max(0, Math.floor(ms / 1000));
  if (seconds < 60) return `${seconds} s`;
  const minutes = Math.floor(seconds / 60);
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
}

/* "1:50" until a time, "late 0:42" after it. */
export function countdown(ms) {
  const seconds = Math.ceil(Math.abs(ms) / 1000);
  const text = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  return ms >= 0 ? text : `late ${text}`;
}

function put(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

export function tick(root = document) {
  const now = serverNow();
  nameZone(now);
  for (const each of root.querySelectorAll("time[data-clock]")) put(each, clock(each.dateTime));
  for (const each of root.querySelectorAll("time[data-age]")) {
    const length = lengthText(now - Date.parse(each.dateTime));
    put(each, each.dataset.age ? `${each.dataset.age} ${length}` : `${length} ago`);
  }
  for (const each of root.querySelectorAll("[data-countdown]")) {
    const left = Date.parse(each.dataset.countdown) - now;
    each.toggleAttribute("data-late", left < 0);
    put(each, countdown(left));
  }
  for (const each of root.querySelectorAll("[data-left]")) put(each, countdown(Math.max(0, Date.parse(each.dataset.left) - now)));
  for (const each of root.querySelectorAll("[data-old-after]")) {
    if (Date.parse(each.dataset.oldAfter) > now) continue;
    each.dataset.state = "old";
    put(each, `Last: ${each.dataset.oldWord}`); // its age stands beside it
  }
  for (const each of root.querySelectorAll("[data-counts-from]")) each.hidden = Date.parse(each.dataset.countsFrom) <= now;
  for (const each of root.querySelectorAll("[data-until]")) {
    if (Date.parse(each.dataset.until) <= now) {
      each.textContent = each.dataset.after;
      each.removeAttribute("data-until");
    }
  }
}

export function startClock() {
  setServerTime(document.body.dataset.serverTime);
  tick();
  setInterval(tick, 500);
}
