/* The order that a page carries out: while it is not what it was, the page's main button is held and says why. The server
   says how it stands whenever the case changes; that its time has run out the page knows without a link. */

import { _ } from "../core/words.js";
import { serverNow } from "../core/clock.js";

const LOOK_MS = 250;
const gate = () => document.querySelector("[data-gate]");

/* Ends by the page's own clock what has run out, also where no server says so. */
function runOut(box) {
  if (box.dataset.held || !box.dataset.expiresAt || Date.parse(box.dataset.expiresAt) > serverNow()) return;
  box.dataset.held = box.dataset.expired;
  box.querySelector("[data-hold]").textContent = box.dataset.expired;
}

/* What the order has become since the form was loaded with it, as "25 mcg IV, not 30 mcg IV"; "" while it is the same. */
function changedSince(form, box) {
  const newer = box.querySelector("[data-ordered]")?.dataset.ordered;
  const { orderShown } = form.dataset;
  return newer && orderShown && newer !== orderShown ? _("CHANGED: {newer}, not {older}", { newer, older: orderShown }) : "";
}

/* Why the form may not carry out its order, as the main button's words; "" while it may. An end of what runs is never held. */
export function orderHold(form) {
  const box = gate();
  if (!box || !("byOrder" in form.dataset)) return "";
  if (form.dataset.kind === "change" && form.elements.status.value !== "rate") return "";
  runOut(box);
  return box.dataset.held || changedSince(form, box);
}

/* Links that lead on by the order are held like the button. */
function holdLinks(box) {
  for (const link of document.querySelectorAll("a[data-by-order]")) {
    if (!box.dataset.held || link.ariaDisabled === "true") continue;
    link.setAttribute("aria-disabled", "true");
    link.firstChild.textContent = box.dataset.held;
  }
}

export function startOrder() {
  let last = "";
  setInterval(() => {
    const box = gate();
    if (!box) return;
    runOut(box);
    holdLinks(box);
    const stands = `${box.dataset.held ?? ""} ${box.querySelector("[data-ordered]")?.dataset.ordered ?? ""}`;
    if (stands === last) return;
    last = stands;
    document.dispatchEvent(new Event("order-moved"));
  }, LOOK_MS);
  document.addEventListener("click", (event) => {
    if (event.target.closest("a[data-by-order][aria-disabled='true']")) event.preventDefault();
  });
}
