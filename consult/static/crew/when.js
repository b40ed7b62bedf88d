/* When something happened, as a form asks for it: so many minutes ago, picked or typed. */

import { _ } from "../core/words.js";
import { serverNow } from "../core/clock.js";
import { clockText } from "../core/times.js";
import { Asking } from "./asking.js";

const fields = (form) => form.querySelector("[data-when]");
const typed = (form) => form.elements.ago_min;

/* How many minutes ago it happened; 0 is now. */
export const minutesAgo = (form) => Number(typed(form)?.value || form.elements.ago?.value || 0);

const happened = (form) => serverNow() - minutesAgo(form) * 60000;
const clockOf = (time) => clockText(time, false);

/* "10 min ago, at 07:07", of another day with its date; "" for now. */
export const agoText = (form) => (minutesAgo(form) > 0 ? _("{minutes} min ago, at {time}", { minutes: minutesAgo(form), time: clockOf(happened(form)) }) : "");

/* What is wrong with the minutes typed, by the field's own bounds; "" where they can be. */
function wrong(form) {
  const field = typed(form);
  return field && !field.validity.valid ? _("Minutes ago: a whole number from {min} to {max}", { min: field.min, max: field.max }) : "";
}

const NOT_LATE = ["move", "handover", "close", "order", "readback", "answer", "withdraw"]; // after its end a case takes entries of what was done

/* What the page says of the end of its case, as {at, words}; null while the case is open. */
function end() {
  const box = document.querySelector("[data-ended-at]");
  return box && { at: Date.parse(box.dataset.endedAt), words: box.querySelector("[data-ended]").textContent.replace(/\.$/, "") };
}

/* Why the end of the case holds a form that is no late entry, `dated` where it says when; "" where it may go. */
export function endHold(form, dated) {
  const held = NOT_LATE.includes(form.dataset.kind) || (form.dataset.kind === "intervention" && !dated);
  return (held && end()?.words) || "";
}

/* The question about a time before the case was opened or after it ended; what others gave before is meant to lie there. */
function question(form) {
  const ended = fields(form) && end();
  if (ended && happened(form) > ended.at) return _("{ended}. Sure that it happened after that?", { ended: ended.words });
  const opened = Date.parse(fields(form)?.dataset.openedAt);
  const early = minutesAgo(form) > 0 && happened(form) < opened;
  return early && !form.elements.prior_by?.value ? _("That is before this case was opened at {opened}. Sure?", { opened: clockOf(opened) }) : "";
}

export class When {
  constructor(form, told) {
    Object.assign(this, { form, asking: new Asking(form, told) });
    this.said = form.querySelector("[data-when-said]");
    form.addEventListener("input", ({ target }) => target.name === "ago_min" && this.typed(target));
    form.addEventListener("change", ({ target }) => { if (target.name === "ago" && typed(form)) typed(form).value = ""; });
  }

  /* One of both says when: minutes typed unpick what was picked, and without them it is now. */
  typed(field) {
    for (const each of this.form.elements.ago) each.checked = !field.value && field.validity.valid && each.defaultChecked;
  }

  /* Why the form must wait, said beside the field, too, which is led to; "" where the time can be. */
  held() {
    const words = wrong(this.form);
    if (this.said) this.say(words || question(this.form));
    if (words) return { words, at: typed(this.form) };
    return this.asking.held(this.#minutes);
  }

  say(text) {
    this.said.hidden = !text;
    if (this.said.textContent !== text) this.said.textContent = text;
  }

  /* The minutes that are asked about; "" where nothing is. */
  get #minutes() {
    return question(this.form) && String(minutesAgo(this.form));
  }

  /* Whether the question about these minutes was asked by a press. */
  get asked() {
    return this.asking.asked(this.#minutes);
  }

  /* Whether this press must only ask; the next one is the answer. */
  asks() {
    return this.asking.asks(this.#minutes, this.said);
  }
}
