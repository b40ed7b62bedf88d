/* What is half typed stays on this phone, for each page of each case by itself: it survives another page and a reload, goes
   with what was sent, discarded or begun anew, and after a while comes back only when somebody says so. */

import { _ } from "../core/words.js";
import { serverNow } from "../core/clock.js";
import { clockText } from "../core/times.js";
import { minutesAgo } from "./when.js";

const MINUTE = 60000;
const ASKS_AFTER_MS = 5 * MINUTE;
const KEPT_MS = 60 * MINUTE;
const START = "draft-";
const NEVER = ["step", "label"]; // a label is read by whoever has it in hand

const controls = (form) => [...form.elements].filter(({ name, type }) => name && type !== "hidden" && !NEVER.includes(name));
const age = ({ at }) => Date.now() - at; // by the phone's own clock, which wrote it
const isChoice = ({ type }) => type === "radio" || type === "checkbox";

/* What differs from the form as it came, as [name, value, whether it is chosen]. */
function typed(form) {
  const found = [];
  for (const each of controls(form)) {
    if (isChoice(each) && each.checked !== each.defaultChecked) found.push([each.name, each.value, each.checked]);
    else if (each.options ? !each.selectedOptions[0]?.defaultSelected && each.value : !isChoice(each) && each.value !== each.defaultValue) found.push([each.name, each.value, true]);
  }
  return found;
}

/* Whether somebody has begun to fill in the form. */
export const isBegun = (form) => !form.hidden && (typed(form).length > 0 || [...form.querySelectorAll('[name="step"]')].some((each) => each.checked !== each.defaultChecked));

function stored(key) {
  try { return JSON.parse(localStorage.getItem(key)); } catch { return null; }
}

/* Drop what is too old, and what somebody else has typed on this phone. */
function tidy(mine) {
  for (const key of Object.keys(localStorage).filter((each) => each.startsWith(START))) {
    const kept = stored(key);
    if (!key.startsWith(mine) || !kept || age(kept) > KEPT_MS) localStorage.removeItem(key);
  }
}

class Draft {
  constructor(form, key) {
    Object.assign(this, { form, key });
    const kept = stored(key);
    for (const kind of ["input", "change"]) form.addEventListener(kind, () => this.save());
    for (const kind of ["entry-kept", "reset"]) form.addEventListener(kind, () => this.forget());
    if (kept) this.offer(kept);
  }

  save() {
    if (this.asking) return; // until it is answered nothing takes the place of what was typed before
    const fields = typed(this.form);
    if (fields.length) localStorage.setItem(this.key, JSON.stringify({ at: Date.now(), ago: minutesAgo(this.form), fields }));
    else localStorage.removeItem(this.key);
  }

  forget() {
    this.asking = false;
    this.line?.remove();
    localStorage.removeItem(this.key);
  }

  /* Filled in at once where it was typed just now, for this very patient; else it is asked. */
  offer(kept) {
    const isNew = age(kept) < ASKS_AFTER_MS && document.body.dataset.case;
    this.asking = !isNew;
    this.line = Object.assign(document.createElement("div"), { className: "notice draft" });
    this.line.setAttribute("role", "status");
    this.line.append(Object.assign(document.createElement("p"), { textContent: _("Typed at {time}, not sent yet", { time: clockText(serverNow() - age(kept), false) }) }));
    const buttons = Object.assign(document.createElement("div"), { className: "two" });
    if (!isNew) buttons.append(this.button(_("Restore it"), () => { this.asking = false; this.fill(kept); this.line.querySelector("button").remove(); }));
    buttons.append(this.button(_("Clear what is typed"), () => (this.asking ? this.forget() : this.form.reset())));
    this.line.append(buttons);
    this.form.before(this.line);
    if (isNew) this.fill(kept);
  }

  button(textContent, act) {
    const button = Object.assign(document.createElement("button"), { type: "button", className: "quiet-big", textContent });
    button.addEventListener("click", act);
    return button;
  }

  fill({ ago, fields, ...kept }) {
    for (const [name, value, chosen] of fields) {
      if (!this.form.elements[name]) document.querySelector(`[data-in-other-unit][data-name="${name}"]`)?.click();
      const control = controls(this.form).find((each) => each.name === name && (!isChoice(each) || each.value === value));
      if (!control) continue;
      if (isChoice(control)) control.checked = chosen;
      else control.value = value;
      const fold = control.closest("details:not([name])");
      if (fold && chosen) fold.open = true;
    }
    this.setBack(Math.round(age(kept) / MINUTE), ago);
    for (const kind of ["input", "change"]) this.form.dispatchEvent(new Event(kind, { bubbles: true }));
  }

  /* Vitals were read when they were typed; what happened "10 min ago" then happened longer ago by now. */
  setBack(minutes, ago) {
    const place = this.form.elements.ago_min;
    if (!place || !minutes || !(ago || this.form.dataset.kind === "vitals")) return;
    place.value = String(ago + minutes);
    place.dispatchEvent(new Event("input", { bubbles: true }));
    place.closest("details")?.setAttribute("open", "");
  }
}

/** Keep what is typed into these forms of a page. */
export function startDrafts(forms, membership) {
  const mine = `${START}${membership}-`;
  tidy(mine);
  for (const form of forms) new Draft(form, `${mine}${location.pathname}${location.search}-${form.dataset.kind}-${form.dataset.target ?? ""}`);
}
