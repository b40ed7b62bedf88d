// The alarm's sound: off until somebody switches it on, by priority (pulse groups after IEC 60601-1-8), with a pause of two minutes.
// A browser forgets its permission with each page: where the sound was on, the button asks for it again, so that nobody misses it.

import { _ } from "../core/words.js";
import { countText } from "../core/times.js";
import { tone } from "../core/tone.js";

const PULSES = { high: [0, 0.2, 0.4, 0.8, 1.0, 1.6, 1.8, 2.0, 2.4, 2.6], medium: [0, 0.3, 0.6] };
const REPEAT = { high: 8000, medium: 20000 };
const PAUSE = 120000;

const WANTED = "sound"; // kept in this browser: somebody has switched it on here

let context = null;
let pausedUntil = 0;
let lastAt = -Infinity;

/** Whether the sound is on, and not paused. */
const sounding = () => context?.state === "running" && performance.now() >= pausedUntil;

/** Whether the sound was switched on in this browser, and this page may not sound yet. */
const asks = () => Boolean(localStorage.getItem(WANTED)) && context?.state !== "running";

/** Connect the strip's button: off → on → paused for two minutes → on. */
export function startSound(button) {
  if (localStorage.getItem(WANTED)) context = new AudioContext(); // some browsers let a page sound that was heard before
  button.addEventListener("click", async () => {
    if (context?.state === "running") {
      pausedUntil = sounding() ? performance.now() + PAUSE : 0;
    } else {
      context ??= new AudioContext();
      await context.resume();
      localStorage.setItem(WANTED, "on");
    }
    label(button);
  });
  setInterval(() => label(button), 1000);
  label(button);
}

function label(button) {
  const left = pausedUntil - performance.now();
  const text = asks() ? _("Turn sound on") : !context ? _("Sound off") : left > 0 ? _("Sound paused {left}", { left: countText(left) }) : _("Sound on");
  if (button.textContent !== text) button.textContent = text;
  button.setAttribute("aria-pressed", String(sounding()));
  button.toggleAttribute("data-asks", asks());
}

let known = null; // the cases that were in cardiac arrest when last told; null: not told yet

/** Sound as for a new HIGH where a case is in cardiac arrest that was not when last told: it has no alert that sounds again. */
export function soundArrests(cases) {
  const begun = known && cases.some((id) => !known.has(id));
  known = new Set(cases);
  if (begun) sound("high", true);
}

/** Sound the worst raised priority once, and again after its interval while it stays raised; what is new waits for none. */
export function sound(priority, isNew = false) {
  if (!PULSES[priority] || !sounding() || (!isNew && performance.now() - lastAt < REPEAT[priority])) return;
  lastAt = performance.now();
  for (const start of PULSES[priority]) tone(context, context.currentTime + start, priority === "high" ? 740 : 520, 0.2);
}
