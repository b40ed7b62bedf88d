// A press counts only for a control that the pointer went to: one that the page has just moved under it is not pressed.

import { _ } from "../core/words.js";

const MOMENT_MS = 1000; // long enough to see what came; our choice
const SAME_PLACE = 24; // px; a finger never comes down at the very same point twice
const rest = { x: 0, y: 0, key: "" }; // where pointer or finger came to rest, and on which control

let movedAt = 0; // of the pointer
let shiftedAt = 0; // of what lies on the page
let refusedAt = -MOMENT_MS;
let refused = null;

const controlAt = (event) => event.target.closest?.("button, [data-act]") ?? null;

/** What a control does; the same before and after its part was drawn anew. */
function keyOf(control) {
  if (!control) return "";
  const url = control.dataset.url ?? control.closest("form[data-url]")?.dataset.url ?? control.closest("[data-order]")?.dataset.order;
  return [control.dataset.act ?? control.type, control.dataset.form, control.dataset.body, url].join(" ");
}

/** To be told whenever something of the page may have moved. */
export function shifted() {
  shiftedAt = Date.now();
}

/** Whether the pointer is over an element and moved within so many ms; right also while what lies under it is drawn anew. */
export function pointsAt(element, within) {
  const { left, right, top, bottom } = element.getBoundingClientRect();
  return Date.now() - movedAt < within && rest.x >= left && rest.x <= right && rest.y >= top && rest.y <= bottom;
}

/** The pointer has left the page, or the wheel moves the page under it on purpose. */
const leaves = () => Object.assign(rest, { x: -SAME_PLACE, y: -SAME_PLACE });

function comesToRest(event) {
  movedAt = Date.now();
  Object.assign(rest, { x: event.clientX, y: event.clientY, key: keyOf(controlAt(event)) });
}

/** Refuse presses of what has only just come under the pointer; `say` writes a sentence beside the control. */
export function startPresses(say) {
  addEventListener("pointermove", (event) => (event.clientX !== rest.x || event.clientY !== rest.y) && comesToRest(event), true);
  addEventListener("pointerdown", (event) => {
    const control = controlAt(event);
    const near = Math.hypot(event.clientX - rest.x, event.clientY - rest.y) < SAME_PLACE;
    const [since, came] = [Date.now() - MOMENT_MS, rest.key !== keyOf(control)];
    refused = control && near && ((came && shiftedAt > since) || refusedAt > since) ? control : null;
    if (refused) refusedAt = Date.now(); // once it was told, the next press counts, whatever moves meanwhile
    comesToRest(event);
  }, true);
  addEventListener("wheel", leaves, { capture: true, passive: true });
  document.documentElement.addEventListener("pointerleave", leaves);
  addEventListener("click", (event) => {
    if (!refused || !event.detail || controlAt(event) !== refused) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    say(refused, _("Not pressed: this has only just moved under the pointer. Press again if you mean it."));
  }, true);
}
