// What a person presses: one call of the REST API, its answer or its problem's sentence beside the control.

import { _ } from "../core/words.js";
import { collect, fieldName, stepsIn, markRefused } from "../core/form.js";
import { call, newId, sentence } from "../core/send.js";
import { hereText } from "../core/times.js";
import { shifted, startPresses } from "./press.js";

/** Switch off what the viewer's role may not press, show what is for one person, hide what is for all others than one;
 * the server refuses it as well. */
export function applyRole(root = document) {
  const { membership } = document.body.dataset;
  for (const control of root.querySelectorAll("[data-but]")) control.hidden = control.dataset.but === membership;
  for (const control of root.querySelectorAll("[data-for]")) {
    const may = control.dataset.for.split(" ").includes(document.body.dataset.role);
    control.disabled = !may;
    if (!may) control.title = _("Your role cannot decide here.");
  }
  for (const control of root.querySelectorAll("[data-of]")) control.hidden = control.dataset.of !== document.body.dataset.membership;
}

/** Listen for buttons and forms of the whole page; `onDone` is told after each accepted write. */
export function startActions(onDone = () => {}) {
  startPresses((control, text) => say(problemPlace(control), text));
  document.addEventListener("click", (event) => {
    const control = event.target.closest("[data-act]");
    if (!control || control.disabled) return;
    if (control.dataset.act === "post") send(control, bodyOf(control), onDone);
    if (control.dataset.act === "open") toggle(control);
    if (control.dataset.act === "close") close(control.closest("form"));
  });
  document.addEventListener("submit", (event) => {
    if (!event.target.dataset.url) return;
    event.preventDefault();
    send(event.target, whole(event.target), onDone);
  });
}

/** What a form says: steps without a unit are in that of the rate, and what is ordered at a rate is started. */
function whole(form) {
  const data = collect(form);
  if (data.titrate) stepsIn(data.titrate, data.amount?.unit);
  const steps = form.querySelector("[data-steps]:not([hidden])");
  if (steps && !data.decision) data.action ??= "start";
  if (steps && data.decision && !form.elements.stepped.checked) data.titrate = null; // the steps asked for are taken away
  return data;
}

const bodyOf = (control) => control.dataset.json ? JSON.parse(control.dataset.json) : (control.dataset.body === "approve" ? { decision: "approve" } : control.dataset.body === "take-over" ? { take_over: true } : {});

/** One press: one call; its answer goes to `onDone`, its problem beside the control. */
export async function send(control, body, onDone) {
  const place = problemPlace(control);
  if (control.closest("[data-live='lost']")) return say(place, _("Not live: nothing was sent. Use the radio."));
  if (control.hasAttribute("data-busy")) return;
  control.dataset.entry ||= newId(); // the same press tried again is the same entry
  control.setAttribute("data-busy", "");
  say(place, "");
  const answer = await call(control.dataset.method ?? "POST", control.dataset.url, { id: control.dataset.entry, ...body }).catch(() => null);
  control.removeAttribute("data-busy");
  if (!answer) return say(place, _("Not sent: the server could not be reached. Your entry is kept; try again."));
  if (answer.ok || answer.status !== 409) delete control.dataset.entry;
  if (answer.ok) {
    if (control.matches("form")) close(control, true);
    return onDone(control);
  }
  if (control.matches("form")) markRefused(control, answer.content);
  say(place, sentence(answer.content, answer.status, control.matches("form") && ((pointer) => fieldName(control, pointer))));
}

/** What became of an order meanwhile, by whom and when, as one sentence; an empty text if that cannot be told. */
export async function whatBecame(panel) {
  if (!panel.dataset.order) return panel.dataset.question ? _("Already answered, done or withdrawn: nothing more to press here.") : "";
  const answer = await call("GET", `/api/v1/orders/${panel.dataset.order}/`).catch(() => null);
  return hereText((answer?.ok && answer.content?.told) || "");
}

function problemPlace(control) {
  const holder = control.matches("form") ? control : control.closest("[data-part], form") || control.parentElement;
  return holder.querySelector(":scope > .problem") || holder.querySelector(".problem");
}

function say(place, text) {
  if (place) place.textContent = text;
}

function toggle(control) {
  const holder = control.closest("[data-part]");
  const form = holder.querySelector(`form[data-name="${control.dataset.form}"]`);
  const opening = form.hidden;
  for (const other of holder.querySelectorAll("form[data-name]")) close(other);
  form.hidden = !opening;
  control.setAttribute("aria-expanded", String(opening));
  shifted();
  const first = opening && form.querySelector("input:not([type='hidden']), textarea, select");
  if (first) first.focus({ preventScroll: true });
  if (first) first.select?.(); // what stands there gives way to what is typed
  if (opening) form.scrollIntoView({ block: "nearest" }); // all of it, its button too
}

function close(form, sent = false) {
  if (sent) form.reset();
  form.hidden = form.hasAttribute("data-name");
  say(form.querySelector(".problem"), "");
  const opener = form.closest("[data-part]")?.querySelector(`[data-form="${form.dataset.name}"]`);
  opener?.setAttribute("aria-expanded", "false");
}
