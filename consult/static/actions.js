// What a person presses: one call of the REST API, its answer or its problem's sentence beside the control.

import { shifted, startPresses } from "./press.js";
import { hereText } from "./zone.js";

const role = () => document.body.dataset.role;

/** Switch off what the viewer's role may not press; the server refuses it as well. */
export function applyRole(root = document) {
  for (const control of root.querySelectorAll("[data-for]")) {
    const may = control.dataset.for.split(" ").includes(role());
    control.disabled = !may;
    if (!may) control.title = "Your role does not decide here.";
  }
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
    send(event.target, formBody(event.target), onDone);
  });
}

const bodyOf = (control) => (control.dataset.body === "approve" ? { decision: "approve" } : control.dataset.body === "take-over" ? { take_over: true } : {});

/** The filled fields of a form as JSON; a name with a dot is an object within, ticked boxes are true. */
export function formBody(form) {
  const body = {};
  for (const field of form.elements) {
    if (!field.name || field.disabled || (field.type === "checkbox" ? !field.checked : !field.value.trim())) continue;
    const [name, inner] = field.name.split(".");
    const value = field.type === "checkbox" ? true : field.value.trim();
    if (inner) body[name] = { ...body[name], [inner]: value };
    else body[name] = value;
  }
  return body;
}

async function send(control, body, onDone) {
  const place = problemPlace(control);
  if (control.closest("[data-live='lost']")) return say(place, "Held: not live. Use the radio; nothing was sent.");
  if (control.hasAttribute("data-busy")) return;
  control.dataset.entry ||= newId(); // the same press tried again is the same entry
  control.setAttribute("data-busy", "");
  say(place, "");
  const answer = await call(control.dataset.url, { id: control.dataset.entry, ...body });
  control.removeAttribute("data-busy");
  if (!answer) return say(place, "Not sent: the server could not be reached. Your entry is kept; try again.");
  if (answer.ok) {
    delete control.dataset.entry;
    if (control.matches("form")) close(control, true);
    return onDone(control);
  }
  if (answer.status !== 409) delete control.dataset.entry;
  say(place, await sentence(answer, control));
}

/** POST JSON with the session and its CSRF token; null when the server could not be reached. */
export function call(url, body) {
  const token = document.querySelector("meta[name='csrf-token']").content;
  return fetch(url, {
    method: "POST",
    headers: { "Content-Type": "application/json", Accept: "application/json", "X-CSRFToken": token },
    body: JSON.stringify(body),
  }).catch(() => null);
}

async function sentence(answer, control) {
  const problem = await answer.json().catch(() => ({}));
  for (const field of control.elements || []) field.removeAttribute("aria-invalid");
  for (const { pointer } of problem.errors || []) {
    const field = control.elements?.namedItem?.(pointer.slice(1).replace("/", "."));
    field?.setAttribute?.("aria-invalid", "true");
  }
  const details = (problem.errors || []).map((error) => error.detail).filter(Boolean);
  const text = details.length ? details.join(" ") : problem.detail || problem.title || `Refused (${answer.status}).`;
  return hereText(text);
}

/** What became of an order meanwhile, by whom and when, as one sentence; an empty text if that cannot be told. */
export async function whatBecame(panel) {
  const answer = await fetch(`/api/v1/orders/${panel.dataset.order}/`).catch(() => null);
  const order = answer?.ok ? await answer.json() : {};
  return hereText(order.told ?? "");
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
  if (opening) form.querySelector("input:not([type='hidden']), textarea, select")?.focus({ preventScroll: true });
  if (opening) form.scrollIntoView({ block: "nearest" }); // all of it, its button too
}

function close(form, sent = false) {
  if (sent) form.reset();
  form.hidden = form.hasAttribute("data-name");
  say(form.querySelector(".problem"), "");
  const opener = form.closest("[data-part]")?.querySelector(`[data-form="${form.dataset.name}"]`);
  opener?.setAttribute("aria-expanded", "false");
}

/** A random UUID, also where the page is not in a secure context. */
export function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 15) | 64;
  bytes[8] = (bytes[8] & 63) | 128;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
