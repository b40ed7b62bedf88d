// What one types stays when a colleague acts meanwhile: the block says who did what; one presses again, or discards.

import { _ } from "../core/words.js";
import { put } from "../core/parts.js";
import { whatBecame } from "./actions.js";

const place = (part) => part.querySelector("form:not([hidden]) .problem") || part.querySelector(".problem");
const leaveWith = (part, act) => part.querySelector("form:not([hidden]) [data-act='close']")?.addEventListener("click", act, { once: true });

/** An order that was being decided on, or lies on a card under the pointer, is gone: nothing more can be pressed, what was
 * typed can still be read. */
export async function settled(part) {
  if (part.hasAttribute("data-settled")) return;
  part.setAttribute("data-settled", "");
  hold(part);
  leaveWith(part, () => part.remove());
  place(part).textContent = (await whatBecame(part)) || _("This order no longer waits for a decision.");
}

/** A part that is worked on stands otherwise on the server now; `fresh` takes its place once what was typed is discarded. */
export async function changed(part, fresh) {
  if (part.dataset.newest === fresh.dataset.version) return;
  part.dataset.newest = fresh.dataset.version;
  leaveWith(part, () => part.dataset.newest === fresh.dataset.version && put(part, fresh));
  if (!part.dataset.order) return say(part, _("Meanwhile: medical control {control}, the case is {state}. What you typed is kept: press again, or go back.", { control: fresh.dataset.control, state: fresh.dataset.state }));
  if (fresh.dataset.step !== "requested") hold(part);
  const said = fresh.querySelector("[data-said]")?.textContent ?? "";
  const text = fresh.dataset.step === "requested" ? `Meanwhile: ${said || _("the request has changed")}.` : await whatBecame(part);
  return say(part, _("{news} What you typed is kept.", { news: text || _("This order no longer waits for a decision.") }));
}

function say(part, text) {
  place(part).textContent = text;
}

function hold(part) {
  part.setAttribute("data-held", "");
  for (const control of part.querySelectorAll("button")) control.disabled = control.dataset.act !== "close";
}
