// Times for the eye: clocks in the zone of the page's agency, ages and countdowns that run on by the server's clock. The
// browser knows when clocks there are put forward or back; nothing medical is computed here.

import { _ } from "./words.js";
import { serverNow, setServerTime } from "./clock.js";

const KEPT = /\b([01]\d|2[0-3]):([0-5]\d)(?::([0-5]\d))? UTC\b/g; // as texts of the server say a time (zone.py)
const MINUTE = 60000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
const PUT_BY = [HOUR / 2, HOUR]; // by so much clocks are put back
const formats = new Map();

/** The time of day and the zone's name then; by the offset that the page told, where the browser lacks the zone. */
function read(milliseconds) {
  const { zone, utcOffset } = document.body.dataset;
  if (!formats.has(zone)) formats.set(zone, zone ? format(zone) : null);
  const parts = formats.get(zone)?.formatToParts(milliseconds);
  if (!parts) {
    const [, day, month, , text] = new Date(milliseconds + Number(utcOffset || 0) * MINUTE).toUTCString().split(" ");
    return { text, day: `${Number(day)} ${month}`, name: "" };
  }
  const of = (type) => parts.find((part) => part.type === type).value;
  return { text: ["hour", "minute", "second"].map(of).join(":"), day: `${of("day")} ${of("month")}`, name: of("timeZoneName").replace("GMT", "UTC").replace("-", "−") };
}

function format(timeZone) {
  try {
    return new Intl.DateTimeFormat("en-US", { timeZone, hourCycle: "h23", month: "short", day: "numeric", hour: "2-digit", minute: "2-digit", second: "2-digit", timeZoneName: "short" });
  } catch {
    return null;
  }
}

/** Of a moment (ms or RFC 3339) hours, minutes and, unless `seconds` is false, seconds; after its day where that is another
 * than that of `now`, and with the zone's name where the clock shows the time twice. */
export function clockText(moment, seconds = true, now = serverNow()) {
  const milliseconds = new Date(moment).getTime();
  const { text, day, name } = read(milliseconds);
  const changes = [-HOUR, HOUR].some((by) => read(milliseconds + by).name !== name);
  const twice = changes && PUT_BY.some((by) => [by, -by].some((other) => read(milliseconds + other).text === text));
  return `${day === read(new Date(now).getTime()).day ? "" : `${day} `}${seconds ? text : text.slice(0, 5)}${twice ? ` ${name}` : ""}`;
}

/** A text of the server with its clock times, which are in UTC, as they are read here; of days, that nearest to now. */
export function hereText(text, now = Date.now()) {
  return text.replace(KEPT, (_whole, hour, minute, second) => {
    const near = new Date(now);
    near.setUTCHours(Number(hour), Number(minute), Number(second ?? 0), 0);
    const at = near.getTime() - Math.round((near.getTime() - now) / DAY) * DAY;
    return clockText(at, second !== undefined, at);
  });
}

let named = document.body.dataset.zone ? read(Date.now()).name : "";

/** Name the zone anew once the clock was put, on a page that was opened before. */
export function nameZone(time) {
  const { name } = read(time);
  const place = document.querySelector("[data-zone-name]");
  if (!named || !place || name === named) return;
  place.textContent = named = name;
}

/** A length of time in words: 40 s, 2 min, 1 h 05 min. */
export function lengthText(milliseconds) {
  const seconds = Math.max(0, Math.floor(milliseconds / 1000));
  if (seconds < 60) return `${seconds} s`;
  const minutes = Math.floor(seconds / 60);
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
}

/** A length of time where there is room for little: 40 s, 12 min, 4 h. */
const shortText = (milliseconds) => (milliseconds < 3600000 ? lengthText(milliseconds) : `${Math.floor(milliseconds / 3600000)} h`);

/** A running clock: 1:50, or with hours 1:02:05. */
export function countText(milliseconds) {
  const seconds = Math.max(0, Math.floor(milliseconds / 1000));
  const parts = [Math.floor(seconds / 60) % 60, seconds % 60].map((part) => String(part).padStart(2, "0"));
  const hours = Math.floor(seconds / 3600);
  return hours ? `${hours}:${parts.join(":")}` : `${Number(parts[0])}:${parts[1]}`;
}

/** "1:50" until a time, "0:00" only once it has come, "late by 0:42" after it. */
export const dueText = (left) => (left >= 0 ? countText(Math.ceil(left / 1000) * 1000) : _("late by {left}", { left: countText(-left) }));
/** In minutes, as it is said, while they are two digits. */
const arrivalText = (left) => {
  const minutes = Math.ceil(left / 60000);
  return left <= 0 ? _("time passed") : minutes < 100 ? `${minutes} min` : lengthText(minutes * 60000);
};

const WRITERS = {
  age: (at, time) => _("{time} ago", { time: lengthText(time - at) }),
  ageShort: (at, time) => shortText(time - at),
  lasts: (at, time) => _("for {time}", { time: lengthText(time - at) }),
  since: (at, time) => _("{time} ago", { time: countText(time - at) }),
  count: (at, time) => countText(time - at),
  waits: (at, time) => (at > time ? _("timer paused, {at} left", { at: countText(at - time) }) : _("waiting {time}", { time: countText(time - at) })),
  due: (at, time, told) => ("in" in told && at >= time ? _("in {at}", { at: dueText(at - time) }) : dueText(at - time)),
  left: (at, time) => dueText(Math.max(0, at - time)),
  notBefore: (at, time, { passed }) => (at > time ? _("not before {at}", { at: clockText(at, true, time) }) : passed),
  escalates: (at, time) => (at > time ? _("in {at}", { at: countText(at - time) }) : _("when no physician is looking")),
  until: (at, time) => arrivalText(at - time),
  ends: (at, time, { after }) => (at > time ? null : after),
};
const kebab = (name) => name.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`);

/** Write every age and countdown under an element anew, and mark what has turned old; as of now, or of another time. */
export function tick(root = document, time = serverNow()) {
  for (const [name, write] of Object.entries(WRITERS)) {
    for (const element of root.querySelectorAll(`[data-${kebab(name)}]`)) {
      const at = Date.parse(element.dataset[name]);
      const text = Number.isNaN(at) ? null : write(at, time, element.dataset);
      if (text !== null && element.textContent !== text) element.textContent = text;
    }
  }
  for (const element of root.querySelectorAll("[data-due]")) element.toggleAttribute("data-late", Date.parse(element.dataset.due) < time);
  for (const element of root.querySelectorAll("[data-counts-from]")) element.hidden = Date.parse(element.dataset.countsFrom) <= time;
  for (const element of root.querySelectorAll("[data-old-after]")) {
    if (time < Date.parse(element.dataset.oldAfter)) continue;
    element.dataset.state = "old";
    element.textContent = element.dataset.oldWord; // its age stands beside it
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

/** Take the page's server time and tick from now on, each so many ms. */
export function startClock(every = 1000) {
  if (!("kept" in document.body.dataset)) setServerTime(document.body.dataset.serverTime); // a page that was kept tells an old time
  tick();
  setInterval(() => { tick(); nameZone(serverNow()); }, every);
}
