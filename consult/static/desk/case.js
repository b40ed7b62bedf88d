// The case page: fetches its parts anew with each change of the case, moves the chart's cursor.

import { serverNow } from "../core/clock.js";
import { parse, remember } from "../core/parts.js";
import { startClock, tick } from "../core/times.js";
import { applyRole, startActions } from "./actions.js";
import { noteControl } from "./control.js";
import { changed, settled } from "./kept.js";
import { startListed } from "./listed.js";
import { checkAll, startOrderForms } from "./orders.js";
import { showOpenBy, startAway, takeLooking } from "./people.js";
import { sound, soundArrests, startSound } from "./sound.js";
import { showClimbed, showHigh, startStrip } from "./strip.js";
import { swap } from "./swap.js";

const page = document.getElementById("case");
const OTHERS_EVERY = 15000;
let cursorAt = null;
let high = Number(document.querySelector("#count-high b").textContent); // alerts of all cases, this one's among them
let arrests = arrestsIn(document.getElementById("others")); // the cases in cardiac arrest: told once as it begins, counted as HIGH
let others = Promise.resolve();
let fetching = false;
let again = false;

/** Fetch the page's parts and put them in; while one fetch runs, a further wish waits for it. */
async function renew() {
  again = fetching;
  if (fetching) return;
  fetching = true;
  try {
    const answer = await fetch(`${page.dataset.fragment}?range=${page.dataset.range}`).catch(() => null);
    if (answer?.ok) show(parse(await answer.text()));
  } finally {
    fetching = false; // what goes wrong once must not stop the page
  }
  if (again) renew();
}

function show(fresh) {
  const before = new Set([...page.querySelectorAll(".alarm[data-state='raised']")].map((alarm) => alarm.dataset.alert));
  for (const container of page.querySelectorAll("[data-parts]")) {
    const other = fresh.querySelector(`#${container.id}`);
    if (other) swap(container, other, { onGone: settled, onChange: changed, onShown: dress });
  }
  showOthers(fresh);
  for (const alarm of page.querySelectorAll(".alarm[data-state='raised']")) if (!before.has(alarm.dataset.alert)) announce(alarm);
  dress();
}

function dress() {
  applyRole();
  showOpenBy(page);
  tick();
  placeCursor();
  checkAll(page);
}

/** Fetch what the strip tells of the other cases: one of them needs something else now. */
async function renewOthers() {
  const answer = await fetch(page.dataset.others).catch(() => null);
  if (answer?.ok) showOthers(parse(await answer.text()));
}

function showOthers(fresh) {
  const told = fresh.querySelector("#others-fresh");
  if (!told) return;
  high = Number(told.dataset.high);
  arrests = arrestsIn(told);
  soundArrests(arrests);
  showHigh(high);
  showClimbed(JSON.parse(told.dataset.climbed));
  noteControl(JSON.parse(told.dataset.control), { all: true, live: true });
  const place = document.getElementById("others");
  const open = place.querySelector("details")?.open;
  place.replaceChildren(...told.childNodes);
  place.querySelector("details")?.toggleAttribute("open", Boolean(open));
}

function arrestsIn(element) {
  return (element.dataset.arrests ?? "").split(" ").filter(Boolean);
}

function announce(alarm) {
  const place = document.getElementById(alarm.dataset.priority === "high" ? "announce-now" : "announce");
  place.textContent = alarm.querySelector(".alarm-text b").textContent;
}

// ---- the chart's cursor

const charts = () => [...page.querySelectorAll(".chart[data-stops]")];
const stopsOf = (chart) => JSON.parse(chart.dataset.stops);

function placeCursor() {
  for (const chart of charts()) {
    const stop = stopsOf(chart).find((each) => each.t === cursorAt);
    const group = chart.querySelector(".cursor-group");
    group.setAttribute("visibility", stop ? "visible" : "hidden");
    if (!stop) continue;
    group.setAttribute("transform", `translate(${stop.x} 0)`);
    const at = document.createElement("span");
    at.className = "at num";
    at.textContent = stop.at;
    document.getElementById("readout").replaceChildren(at, stop.text);
  }
}

function pointAt(chart, clientX) {
  const box = chart.getBoundingClientRect();
  const x = ((clientX - box.left) / box.width) * chart.viewBox.baseVal.width;
  const stops = stopsOf(chart);
  cursorAt = stops.reduce((best, stop) => (Math.abs(stop.x - x) < Math.abs(best.x - x) ? stop : best)).t;
  placeCursor();
}

function step(chart, by) {
  const stops = stopsOf(chart);
  const place = stops.findIndex((stop) => stop.t === cursorAt);
  cursorAt = stops[Math.min(Math.max(place < 0 ? stops.length - 1 : place + by, 0), stops.length - 1)].t;
  placeCursor();
}

function startCursor() {
  page.addEventListener("pointermove", (event) => event.target.closest(".chart[data-stops]") && pointAt(event.target.closest(".chart"), event.clientX));
  page.addEventListener("keydown", (event) => {
    const by = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (!by || !event.target.matches(".chart[data-stops]")) return;
    event.preventDefault();
    step(event.target, by);
  });
}

// ---- buttons

page.addEventListener("click", (event) => {
  const range = event.target.closest("button[data-range]");
  if (range) {
    page.dataset.range = range.dataset.range;
    renew();
  }
});
page.addEventListener("submit", (event) => {
  for (const field of event.target.querySelectorAll("[data-now]")) field.value = new Date(serverNow()).toISOString();
}, true);

remember(page);
applyRole();
startClock();
startActions(() => renew());
startOrderForms();
startListed();
startCursor();
startSound(document.getElementById("sound"));
startAway();
soundArrests(arrests);
const atFirst = document.getElementById("others")?.dataset; // a crew's page tells of its own case alone
showClimbed(JSON.parse(atFirst?.climbed ?? "[]"));
if (atFirst?.control) noteControl(JSON.parse(atFirst.control), { all: true });
startStrip(page.dataset.socket, (message) => {
  if (message.type === "elsewhere") others = others.then(renewOthers);
  else if (message.type === "looking") takeLooking(message);
  else renew();
});
setInterval(renew, OTHERS_EVERY);
setInterval(() => sound(high > arrests.length || page.querySelector(".alarm[data-state='raised'][data-priority='high']:not([data-arrest])") ? "high" : page.querySelector(".alarm[data-state='raised']:not([data-arrest])") ? "medium" : ""), 1000);
