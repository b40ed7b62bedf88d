/* What became of orders, what the crew is to do, a new destination: a banner over whatever page is open, with sound and vibration, until it is pressed. The page holds
   all that is news; what was pressed on this phone is remembered here. */

import { _ } from "../core/words.js";
import { newId } from "../core/send.js";
import { tone } from "../core/tone.js";

const AGAIN_MS = 20000;
const UNAWARE_MS = 600; // a thumb that was on its way to the page must not press what has just come under it
const KEPT = 200;
const ANSWERS = ["answer", "understood", "done", "unable"];
const TONES = [[0, 660], [0.18, 880], [0.36, 660]];

let sound = null;
let shown = "";
let toldAt = 0;
let place = "";
let open = false; // whether all that is new is shown, each whole
let answered = []; // the orders and instructions about which this phone keeps an answer
let tall = null; // how high the banner stood, in px

const pressed = () => { try { return JSON.parse(localStorage.getItem(place)) ?? []; } catch { return []; } };

function press(key) {
  localStorage.setItem(place, JSON.stringify([...pressed(), key].slice(-KEPT)));
  show();
}

/* The browser lets a page sound and vibrate only once somebody has pressed it; until then the page says so. */
function allow() {
  sound ??= new AudioContext();
  sound.resume().then(() => document.getElementById("sound-said").toggleAttribute("data-able", sound.state === "running"));
}

function chime() {
  if (sound?.state !== "running") return;
  for (const [start, pitch] of TONES) tone(sound, sound.currentTime + start, pitch, 0.25);
}

function tell() {
  toldAt = performance.now();
  chime();
  if (navigator.userActivation?.hasBeenActive !== false) navigator.vibrate?.([200, 100, 200]);
}

const settle = () => { for (const item of document.querySelectorAll("[data-news]:not([hidden])")) item.setAttribute("data-settled", ""); };

/* The page is scrolled by as much as the banner grows, so that nothing moves under a finger. */
function hold() {
  const section = document.querySelector(".news");
  const now = getComputedStyle(section).position === "fixed" ? 0 : section.offsetHeight;
  if (tall !== null) scrollBy(0, now - tall);
  tall = now;
}

/* In two lines the first that nobody has pressed here, with how many stand behind it; opened, each whole. */
function show() {
  const known = pressed();
  const isDone = ({ news, ends }) => known.includes(news) || (ends === undefined && answered.some((id) => news.startsWith(id)));
  const waiting = [...document.querySelectorAll("[data-news]")].filter(({ dataset }) => !isDone(dataset));
  const first = waiting[0]?.dataset.news ?? "";
  open &&= Boolean(first);
  for (const item of document.querySelectorAll("[data-news]")) {
    item.hidden = open ? !waiting.includes(item) : item !== waiting[0];
    item.toggleAttribute("data-open", open);
    item.toggleAttribute("data-settled", first === shown);
    item.querySelector("[data-news-open]").ariaExpanded = String(open);
  }
  if (waiting[0]) {
    const words = waiting[0].querySelector(".news-open");
    waiting[0].removeAttribute("data-cut");
    const isCut = words.scrollHeight > words.clientHeight + 1;
    waiting[0].toggleAttribute("data-cut", isCut);
    const more = words.querySelector(".news-more");
    more.hidden = open || (waiting.length < 2 && !isCut);
    more.textContent = [isCut && _("Open"), waiting.length > 1 && `+${waiting.length - 1}`].filter(Boolean).join(", ");
  }
  if (first && first !== shown) {
    setTimeout(settle, UNAWARE_MS);
    tell();
  }
  shown = first;
  hold();
}

/* What the banner of an instruction, or of a new destination, says for the crew: it is kept like any entry, also without a link. */
function say(queue, { dataset }) {
  const { time, ...entry } = JSON.parse(dataset.says);
  const data = { ...entry.data, ...(time ? { [time]: new Date().toISOString() } : {}) };
  return queue.add({ ...entry, id: newId(), data, who: document.body.dataset.callSign });
}

export function startNews(membership, link, queue) {
  place = `news-${membership}`;
  for (const kind of ["pointerdown", "keydown"]) addEventListener(kind, allow, { once: true });
  document.addEventListener("click", async (event) => {
    const item = event.target.closest("[data-news]");
    if (event.target.closest("[data-news-open]")) { open = !open; show(); }
    const control = event.target.closest("[data-news-go], [data-noted]");
    if (!item || !control || !(control.matches("[data-noted]") || link.linked)) return;
    if (control.dataset.says && !await say(queue, control)) return;
    press(item.dataset.news);
  });
  document.addEventListener("parts", show);
  const count = async () => {
    const was = answered.join();
    answered = (await queue.waiting()).filter(({ kind }) => ANSWERS.includes(kind)).map(({ target }) => target);
    if (answered.join() !== was) show();
  };
  queue.addEventListener("change", count);
  count();
  addEventListener("storage", ({ key }) => key === place && show());
  setInterval(() => shown && performance.now() - toldAt > AGAIN_MS && tell(), 1000);
  show();
}
