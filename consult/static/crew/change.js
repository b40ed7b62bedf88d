/* What runs gets a new rate or ends: a new rate is put to the rules before it is recorded, as a dose is. */

import { _ } from "../core/words.js";
import { times } from "../core/amounts.js";
import { Beyond, checkLines, doseText, finding, showFlow, startJudge } from "./checking.js";
import { STILL } from "./due.js";
import { EntryForm, contentOf } from "./entry.js";
import { KINDS, infusedText, lacksReason } from "./kinds.js";

const ENDS = { stopped: _("Record the stop"), finished: _("Record the end"), held: _("Record the pause"), running: _("Record that it runs again") };
const TEN = 10;
const NEAR = 0.01; // a pump's rate is rounded

/* The new rate as a proposal of what runs, or null while none is typed. */
function proposalOf(form) {
  const { amount, concentration } = contentOf(form);
  if (!amount?.unit || !(amount.value > 0)) return null;
  return { ...JSON.parse(form.dataset.runs), amount, ...(concentration ? { concentration } : {}) };
}

export class ChangeForm {
  constructor(form, queue) {
    this.form = form;
    const told = () => { this.show(); this.entry?.refresh(); };
    this.judge = startJudge(told);
    this.hard = new Beyond(form, told);
    this.ordered = JSON.parse(form.dataset.ordered || "null");
    this.already = document.getElementById("already");
    this.entry = new EntryForm(form, queue, { ...KINDS.change, complete: (each) => KINDS.change.complete(each) || this.unexplained() || this.unsure(), ready: () => this.readyText(), amend: (data) => this.unasked(data), already: () => Boolean(this.already?.open) });
    this.already?.addEventListener("toggle", () => this.entry.refresh());
    form.addEventListener("change", ({ target }) => target.name === "reason_pick" && this.holdsRather());
    for (const kind of ["input", "change"]) form.addEventListener(kind, () => this.changed());
    form.addEventListener("reset", () => setTimeout(() => this.changed()));
    document.addEventListener("parts", () => this.show());
    form.addEventListener("entry-sent", () => { this.entry.outcome.querySelector("[data-again]").hidden = form.elements.status.value !== "rate"; });
    this.changed();
    this.entry.refresh(); // what the address has chosen is told at once
  }

  get check() {
    return this.judge.check;
  }

  /* How many times what the order in force says the new rate is; null where that cannot be told. */
  get factor() {
    const { amount: typed, concentration } = contentOf(this.form);
    const amount = concentration ? this.check?.give?.dose : typed; // mL/h of another bag say nothing of the ordered ones
    if (!this.ordered || !amount?.unit || !(amount.value > 0)) return null;
    const { pump } = this.ordered;
    const factor = pump && amount.unit === pump.unit ? amount.value / pump.value : times(amount, this.ordered.amount, this.check?.weight_used?.value);
    return factor === null ? null : Math.round(factor * 1e4) / 1e4;
  }

  /* "Not as ordered: 0.05 mcg/kg/min", where another rate is typed; "" where it is the ordered one, or none is known. */
  notAsOrdered() {
    const { factor } = this;
    return factor === null || Math.abs(factor - 1) < NEAR ? "" : _("Not as ordered: {ordered}", { ordered: this.ordered.text });
  }

  /* The same where it is ten times that or more: that wants a second press. */
  farOff() {
    const { factor } = this;
    return factor >= TEN ? _("{factor} times what was ordered, {ordered}", { factor: factor === TEN ? _("Ten") : Math.round(factor * 10) / 10, ordered: this.ordered.text }) : "";
  }

  changed() {
    this.judge.put(this.form.dataset.runs ? proposalOf(this.form) : null);
    this.show();
  }

  show() {
    this.showLow();
    this.showTimeLeft();
    const [off, far] = [this.notAsOrdered(), this.farOff()];
    document.getElementById("findings").replaceChildren(...(off ? [finding({ level: "caution", text: off })] : []), ...checkLines(this.check));
    showFlow(document.getElementById("flow"), this.check?.flow);
    this.hard.ask(this.check, this.rateText(), true, far);
  }

  /* That the pressure is below the goal while the pressor is about to stand still, by the newest that the page knows. */
  get low() {
    const stops = document.getElementById("low") && STILL.includes(this.form.elements.status.value);
    return (stops && document.querySelector('[data-part="last"]').dataset.low) || "";
  }

  /* When a bolus will be in is asked of what was typed, and only while it is not about to end. */
  showTimeLeft() {
    const ask = document.getElementById("ask-time-left");
    if (!ask) return;
    ask.elements.infused.value = this.form.elements["infused.value"].value;
    document.getElementById("time-left").hidden = Boolean(this.form.elements.status.value);
  }

  /* What is finished asks for no reason, unless the pressure is low. */
  showLow() {
    const [low, why] = [document.getElementById("low"), document.getElementById("why")];
    const status = this.form.elements.status.value;
    if (why) why.hidden = !STILL.includes(status) || (status === "finished" && !this.low);
    const line = document.getElementById("lost-line");
    if (line) line.hidden = !this.lostLine;
    if (!low) return;
    low.hidden = !this.low;
    low.querySelector("b").textContent = _("{low}, and this pressor stops.", { low: this.low });
  }

  get lostLine() {
    return document.getElementById("lost-line")?.dataset.reasons.split("|").includes(this.form.elements.reason_pick?.value) ?? false;
  }

  /* What lost its line is held, not ended: its order and its steps stay open until it runs by another one. */
  holdsRather() {
    const held = this.form.querySelector('[name="status"][value="held"]');
    if (!this.lostLine || !held || held.checked) return;
    held.checked = true;
    held.dispatchEvent(new Event("change", { bubbles: true }));
  }

  /* Why a pressor is ended or held at a low pressure: without an order that is asked. */
  unexplained() {
    return document.getElementById("why") && this.low && lacksReason(this.form, _("{low}: why?", { low: this.low }));
  }

  /* A reason that was chosen before something else happened goes with it. */
  unasked(data) {
    if (document.getElementById("why")?.hidden ?? true) delete data.reason;
  }

  /* A new rate is recorded whatever it is, once the rules were asked and a hard limit was named. */
  unsure() {
    const { amount } = contentOf(this.form);
    if (!amount || !this.form.dataset.runs) return "";
    if (!this.check) return _("Checking …");
    return this.hard.waits ? { words: _("{why}: confirm it above", { why: this.farOff() || _("Over a hard limit") }), at: ".beyond-sure" } : "";
  }

  rateText() {
    return doseText(this.check, contentOf(this.form).amount);
  }

  /* The button names the rate with its pump rate; one over a hard limit is recorded only as what was set already. */
  readyText() {
    const { status, amount, infused } = contentOf(this.form);
    const ready = this.entry?.button.dataset.ready ?? "";
    if (ENDS[status]) return `${ready.replace(_("Record the change"), ENDS[status])}${infusedText({ infused })}`;
    if (!amount) return ready;
    const off = this.notAsOrdered() ? _("Not as ordered. ") : "";
    return this.check?.verdict === "over_hard_limit" ? _("Over a hard limit. Record as set: {rate}", { rate: this.rateText() }) : _("{off}New rate: {rate}", { off, rate: this.rateText() });
  }
}
