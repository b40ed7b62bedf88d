// The device's clock against the server's. It may be off, and it may be put right while entries wait: so each entry keeps
// by which clock its times were written, and goes out with the time of sending by that same clock.

const STEP_MS = 1000; // a smaller step is none: the server corrects by whole seconds
const UNSURE_MS = 2000; // by so much two tellings of the server may differ through the link alone
const DRIFT = 2e-4; // a clock that nobody sets runs at most so much too fast or too slow: 17 s a day; our choice

const clocks = new Map(); // by id, those that this page has seen
let steady = Date.now() - performance.now(); // moves only when the one clock runs on or back without the other
let unseen = document.hidden;
let current = begin(null, 0);

document.addEventListener("visibilitychange", () => { unseen ||= document.hidden; });

/** A clock between two steps. `ahead`: how far the server is ahead of it in ms, null while it told nothing; `stepped`: how
 * far it is ahead of the clock with which the page was opened. */
function begin(ahead, stepped) {
  const clock = { id: crypto.getRandomValues(new Uint32Array(3)).join("-"), ahead, stepped, heard: null };
  clocks.set(clock.id, clock);
  return clock;
}

/** The clock as it runs now. Where it ran on by itself while nobody looked, the phone slept and the steady clock stood still. */
function look() {
  const jump = Date.now() - performance.now() - steady;
  if (Math.abs(jump) >= STEP_MS) {
    steady += jump;
    const step = jump > 0 && unseen ? 0 : jump;
    current = begin(current.ahead === null ? null : current.ahead - step, current.stepped + step);
  }
  unseen = document.hidden;
  return current;
}

/** Take the server's time, an RFC 3339 text. What it told comes late or later, never early: of several tellings the one
 * that is furthest ahead is nearest, but for what the clock may have drifted since. */
export function setServerTime(text) {
  const server = Date.parse(text);
  if (!Number.isFinite(server)) return;
  const clock = look();
  const [ahead, at] = [server - Date.now(), performance.now()];
  clock.ahead = clock.heard === null ? ahead : Math.max(clock.ahead - DRIFT * (at - clock.heard), ahead);
  clock.heard = at;
}

/** The server's time now, in ms. */
export const serverNow = () => (look().ahead ?? 0) + Date.now();

/** A moment, and how many ms ago it was: by the steady clock, which nobody sets back, or by the phone's own, which runs on
 * while the phone sleeps; the longer counts. */
export const moment = () => ({ steady: performance.now(), own: Date.now() });
export const since = ({ steady, own }) => Math.max(performance.now() - steady, Date.now() - own);
export const NEVER = { steady: -Infinity, own: -Infinity };

/** What an entry keeps of the clock by which its times are written. */
export function clockNow() {
  const { id, ahead } = look();
  return { id, ahead };
}

/** How far the clock that an entry kept is ahead of the phone's own, in ms; 0 where it is the same or nothing is known. */
function lead(kept) {
  const now = look();
  if (!kept || kept.id === now.id) return 0;
  const then = clocks.get(kept.id) ?? kept;
  if (then.ahead === null || now.ahead === null) return (then.stepped ?? now.stepped) - now.stepped;
  const ms = now.ahead - then.ahead;
  return Math.abs(ms) < UNSURE_MS ? 0 : ms;
}

/** The time that it is now by the clock that an entry kept. */
export const timeBy = (kept) => new Date(Date.now() + lead(kept));

/** Whether two entries can be sent with one time of sending. */
export const sameClock = (one, other) => Math.abs(lead(one) - lead(other)) < STEP_MS;
