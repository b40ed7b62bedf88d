// The case page: fetches its parts anew with each change of the case, moves the chart's cursor, checks an order before it is sent.

import { applyRole, call, formBody, startActions, whoDecided } from "./actions.js";
import { now, startClock, tick } from "./clock.js";
import { Live } from "./live.js";
import { parse, remember, swap } from "./parts.js";
import { sound, startSound } from "./sound.js";

const page = document.getElementById("case");
const OTHERS_EVERY = 15000;
let cursorAt = null;
let fetching = false;
let again = false;

/** Fetch the page's parts and put them in; while one fetch runs, a further wish waits for it. */
async function renew() {
  again = fetching;
  if (fetching) return;
  fetching = true;
  const answer = await fetch(`${page.dataset.fragment}?range=${page.dataset.range}`).catch(() => null);
  if (answer?.ok) show(parse(await answer.text()));
  fetching = false;
  if (again) renew();
}

function show(fresh) {
  const before = new Set([...page.querySelectorAll(".alarm[data-state='raised']")].map((alarm) => alarm.dataset.alert));
  for (const container of page.querySelectorAll("[data-parts]")) {
    const other = fresh.querySelector(`#${container.id}`);
    if (other) swap(container, other, settled);
  }
  const others = fresh.querySelector("#others-fresh");
  if (others) document.getElementById("others").replaceChildren(...others.childNodes);
  for (const alarm of page.querySelectorAll(".alarm[data-state='raised']")) if (!before.has(alarm.dataset.alert)) announce(alarm);
  applyRole();
  tick();
  placeCursor();
}

function announce(alarm) {
  const place = document.getElementById(alarm.dataset.priority === "high" ? "announce-now" : "announce");
  place.textContent = alarm.querySelector(".alarm-text b").textContent;
}

/** An order that was being decided on has been settled by somebody else: keep what was typed, say who it was. */
async function settled(panel) {
  for (const control of panel.querySelectorAll("button")) control.disabled = control.dataset.act !== "close";
  const place = panel.querySelector("form:not([hidden]) .problem") || panel.querySelector(".problem");
  place.textContent = (await whoDecided(panel)) || "This order no longer waits for a decision.";
  panel.querySelector("form:not([hidden]) [data-act='close']")?.addEventListener("click", () => panel.remove());
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

/** Ask the rules about the order as typed, and list what they find; nothing is written. */
async function check(button) {
  const form = button.closest("form");
  const place = form.querySelector("[data-findings]");
  const { reason, ...proposal } = formBody(form);
  const answer = await call(form.dataset.check, proposal);
  const body = answer ? await answer.json().catch(() => ({})) : {};
  const told = answer?.ok
    ? [body.give?.shown, ...body.findings.map((finding) => finding.text), body.findings.length ? "" : "Within the standing-order limits.",
      body.weight_range && `Guessed weight: ${body.weight_range.text}; ${body.weight_range.beyond}`]
    : (body.errors || [{ detail: body.detail || "The server could not be reached." }]).map((error) => error.detail);
  place.replaceChildren(...told.filter(Boolean).map((text) => Object.assign(document.createElement("li"), { textContent: text })));
}

page.addEventListener("click", (event) => {
  const range = event.target.closest("button[data-range]");
  if (range) {
    page.dataset.range = range.dataset.range;
    renew();
  }
  const checking = event.target.closest("[data-act='check']");
  if (checking) check(checking);
});
page.addEventListener("submit", (event) => {
  for (const field of event.target.querySelectorAll("[data-now]")) field.value = new Date(now()).toISOString();
}, true);

remember(page);
applyRole();
startClock();
startActions(() => renew());
startCursor();
startSound(document.getElementById("sound"));
new Live(page.dataset.socket, { onMessage: () => renew() });
setInterval(renew, OTHERS_EVERY);
setInterval(() => sound(page.querySelector(".alarm[data-state='raised'][data-priority='high']") ? "high" : page.querySelector(".alarm[data-state='raised']") ? "medium" : ""), 1000);
