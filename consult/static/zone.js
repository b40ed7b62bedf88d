// Times of day in the zone of the page's agency: the browser knows when clocks there are put forward or back.

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
  if (!parts) return { text: new Date(milliseconds + Number(utcOffset || 0) * MINUTE).toISOString().slice(11, 19), name: "" };
  const of = (type) => parts.find((part) => part.type === type).value;
  return { text: ["hour", "minute", "second"].map(of).join(":"), name: of("timeZoneName").replace("GMT", "UTC").replace("-", "−") };
}

function format(timeZone) {
  try {
    return new Intl.DateTimeFormat("en-US", { timeZone, hourCycle: "h23", hour: "2-digit", minute: "2-digit", second: "2-digit", timeZoneName: "short" });
  } catch {
    return null;
  }
}

/** Hours, minutes and, unless `seconds` is false, seconds; with the zone's name where the clock shows the time twice. */
export function clockText(milliseconds, seconds = true) {
  const { text, name } = read(milliseconds);
  const changes = [-HOUR, HOUR].some((by) => read(milliseconds + by).name !== name);
  const twice = changes && PUT_BY.some((by) => [by, -by].some((other) => read(milliseconds + other).text === text));
  return `${seconds ? text : text.slice(0, 5)}${twice ? ` ${name}` : ""}`;
}

/** A text of the server with its clock times, which are in UTC, as they are read here; of days, that nearest to now. */
export function hereText(text, now = Date.now()) {
  return text.replace(KEPT, (_, hour, minute, second) => {
    const near = new Date(now);
    near.setUTCHours(Number(hour), Number(minute), Number(second ?? 0), 0);
    const at = near.getTime() - Math.round((near.getTime() - now) / DAY) * DAY;
    return clockText(at, second !== undefined);
  });
}

let named = document.body.dataset.zone ? read(Date.now()).name : "";

/** Name the zone anew once the clock was put, on a page that was opened before. */
export function nameZone(now) {
  const { name } = read(now);
  const place = document.querySelector("[data-zone-name]");
  if (!named || !place || name === named) return;
  place.textContent = named = name;
}
