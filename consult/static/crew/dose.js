/* Giving and requesting: dose and route are chosen, the server checks them and says the volume; the button says what it does. */

import { _ } from "../core/words.js";
import { amountText } from "../core/amounts.js";
import { serverNow } from "../core/clock.js";
import { amountOf } from "../core/form.js";
import { clockText } from "../core/times.js";
import { isShort, showBag } from "./bag.js";
import { Beyond, checkLines, doseText, showFlow, startJudge } from "./checking.js";
import { EntryForm, contentOf } from "./entry.js";
import { STEPS, stepsText } from "./kinds.js";
import { field, lacks } from "./missing.js";
import { mixed, prepared, startWays, tickText } from "./prepare.js";
import { Standing } from "./standing.js";
import { drawSyringe } from "./syringe.js";
import { agoText } from "./when.js";

const TIMED = ["too_soon", "no_pressure_since_last_dose", "pressure_unknown"]; // findings that waiting or measuring takes away

/* The chosen dose as the API's amount: one of those offered, or typed. */
function chosenAmount(form) {
  const picked = form.elements.dose?.value;
  if (picked && picked !== "other") return amountOf(picked);
  const { amount } = contentOf(form);
  return amount?.unit && amount.value > 0 ? amount : null;
}

/* What is put to the rules, or null while dose or route is missing. */
function proposalOf(form) {
  const { route, stock, container, concentration, over_min, product, indication } = contentOf(form);
  const amount = chosenAmount(form);
  if (!amount || !route) return null;
  const { treatment, order } = form.dataset;
  const proposal = { treatment, amount, route, stock, container, concentration, over_min, product, indication, order };
  return Object.fromEntries(Object.entries(proposal).filter(([, value]) => value !== undefined));
}

/* "Choose the dose", "Choose route, dose and reason". */
const ALONE = { reason: _("Give the reason"), strength: _("Choose the strength in hand"), "new bag": _("Enter the mL of the new bag") };

function wordsFor(lacking) {
  if (lacking.length === 1) return ALONE[lacking[0]] ?? _("Choose the {field}", { field: lacking[0] });
  return _("Choose {lacking} and {at}", { lacking: lacking.slice(0, -1).join(", "), at: lacking.at(-1) });
}

export class DoseForm {
  constructor(form, queue) {
    this.form = form;
    const told = () => { this.show(); this.entry?.refresh(); };
    this.judge = startJudge(told);
    this.hard = new Beyond(form, told);
    this.standing = new Standing(queue, form.dataset.treatment, told);
    this.request = form.dataset.kind === "order";
    this.infusion = "infusion" in form.dataset;
    this.already = document.getElementById("already");
    this.running = this.infusion || form.elements.over_min !== undefined;
    startWays(form);
    form.addEventListener("change", () => this.changed());
    form.addEventListener("input", () => this.changed());
    form.addEventListener("reset", () => { if (this.already) this.already.open = false; setTimeout(() => this.changed()); });
    this.entry = new EntryForm(form, queue, {
      complete: (_data, already) => this.missing(already), ready: (_data, already) => this.readyText(already), says: (data) => this.saysText(data),
      amend: (data, already) => this.amend(data, already), already: () => Boolean(this.already?.open),
      beside: () => this.beside(),
    });
    this.already?.addEventListener("toggle", () => told());
    form.addEventListener("entry-sent", () => this.forgetCarried());
    setInterval(() => this.wait(), 1000);
    this.changed();
  }

  /* What is kept with the entry for the pages that count on without a link. */
  beside() {
    if (this.request) return {};
    const { asks, group } = this.standing;
    return this.infusion ? { asks } : { asks, group, volume: this.volume?.value ?? null };
  }

  get check() {
    return this.judge.check;
  }

  changed() {
    const other = document.getElementById("other-dose");
    if (this.form.elements.dose) other.hidden = this.form.elements.dose.value !== "other";
    this.judge.put(proposalOf(this.form));
    this.show();
  }

  show() {
    const amount = chosenAmount(this.form);
    document.getElementById("dose").hidden = !amount;
    if (amount) {
      const { give, words } = this.check ?? {};
      const over = this.overText() || (words?.over ? ` ${words.over}` : "");
      document.getElementById("dose-amount").textContent = words?.dose ?? amountText(amount);
      document.getElementById("dose-volume").textContent = (words?.measure ?? this.standing.measured(amount)) || over.trim();
      document.getElementById("dose-of").textContent = words?.of ? `${words.of}${over}` : give && !give.volume && !give.rate ? _("Volume unknown: choose the strength in hand") : "";
    }
    const swapped = this.check?.give?.if_swapped ?? [];
    document.getElementById("dose-swapped").textContent = swapped.length ? _("Read the label: {swapped}", { swapped: swapped.join("; ") }) : "";
    document.getElementById("findings").replaceChildren(...checkLines(this.standing.known(this.check)));
    showFlow(document.getElementById("flow"), this.check?.flow);
    this.push = drawSyringe(document.getElementById("syringe"), this.volume, this.standing.syringeFor(this.volume?.value ?? 0, mixed(this.form)), this.check?.give?.syringe);
    this.hard.ask(this.check, amount ? this.wholeText() : "", Boolean(this.already?.open));
    this.showVolumes();
    showBag(this.standing.bag, amount); this.carry();
  }

  /* What each amount is of the strength in hand, once that is chosen; the server has worked it out for every strength. */
  showVolumes() {
    const strength = this.strength?.value;
    for (const each of this.form.querySelectorAll("small[data-volumes]")) each.textContent = JSON.parse(each.dataset.volumes)[strength] ?? "";
  }

  get strength() {
    return this.form.querySelector('input[name="stock"]:checked, input[name="concentration"]:checked');
  }

  /* An order is asked for what was chosen here, not from the beginning. */
  carry() {
    const ask = document.getElementById("ask");
    if (!ask) return;
    const { route, over_min, product, indication } = contentOf(this.form);
    const amount = chosenAmount(this.form);
    const chosen = { route, over_min, product, indication, amount: amount && `${amount.value} ${amount.unit}`, strength: this.strength?.value };
    const address = new URL(ask.href);
    for (const [name, value] of Object.entries(chosen)) value ? address.searchParams.set(name, value) : address.searchParams.delete(name);
    ask.href = address;
  }

  /* What came along was for this one request: the next one begins with nothing chosen. */
  forgetCarried() {
    if (!("carried" in this.form.dataset)) return;
    for (const each of this.form.elements) if (each.type === "radio") each.defaultChecked = false;
    for (const each of this.form.querySelectorAll("input[name=product]")) {
      if (each.type === "radio") each.defaultChecked = false;
      else each.defaultValue = "";
    }
  }

  /* The volume of the chosen dose, by the check; without one by the strength of the syringe in hand. */
  get volume() {
    return this.check?.verdict ? this.check.give?.volume : this.standing.volumeOf(chosenAmount(this.form));
  }

  /* From when this dose may be given, in ms; null from then on. What was checked counts more than what the page brought,
     but the server knows nothing of doses that are kept on this phone. */
  get waitsUntil() {
    const soon = this.check?.findings?.some(({ code, level }) => code === "too_soon" && level === "needs_order");
    const told = this.check?.verdict ? (soon ? Date.parse(this.check.next_at) : 0) : this.standing.next;
    const next = Math.max(told, this.standing.ownNext);
    return next > serverNow() ? next : null;
  }

  /* Counts down to the end of the interval; then the dose is put to the rules anew. */
  wait() {
    const until = this.waitsUntil;
    if (this.waited && !until) this.judge.again();
    if (this.waited || until) this.entry.refresh();
    this.waited = until;
  }

  /* Whether no waiting and no measuring helps: this dose needs an order whenever it is given. */
  get needsOrder() {
    const beyond = ({ level, code }) => level === "needs_order" && !TIMED.includes(code);
    return Boolean(this.check?.findings?.some(beyond));
  }

  /* Whether more is chosen than was ordered, in another unit, or from another strength than was read back. */
  get notAsOrdered() {
    const { order, orderAmount, orderStrength } = this.form.dataset;
    if (!order || !orderAmount) return false;
    const [ordered, amount] = [amountOf(orderAmount), chosenAmount(this.form)];
    if (!amount) return false;
    const more = amount.unit !== ordered.unit || amount.value > ordered.value;
    return more || Boolean(orderStrength && this.strength && this.strength.value !== orderStrength);
  }

  /* What is still missing, as the button's words; "" when it may be pressed. What was given already only needs to be named. */
  missing(already = false) {
    const lacking = this.lacking(already);
    if (lacking.length) return { at: field(lacking[0][0]), words: wordsFor(lacking.map(([, word]) => word)) };
    const steps = this.form.elements.stepped?.value ? lacks(this.form, STEPS) : null;
    if (steps) return steps;
    if (this.request) return this.check?.verdict === "over_hard_limit" ? _("Over a hard limit") : "";
    return already ? this.unsure() : this.held();
  }

  /* The fields that are empty yet, from above, each with its word. */
  lacking(already) {
    const { route, concentration, reason, container_ml } = contentOf(this.form), amount = chosenAmount(this.form);
    const asked = [
      ["route", "route", route], ["concentration", "strength", !this.needsStrength(already) || concentration],
      [this.amountField, this.infusion ? "rate" : "dose", amount], ["reason_pick", "reason", !this.request || reason],
      ["container_ml", "new bag", already || this.request || container_ml || !isShort(this.standing.bag, amount)],
    ];
    return asked.filter(([, , known]) => !known);
  }

  /* What runs now has a strength; what is only asked for may be mixed later, but that a rate in mL/h says nothing without it. */
  needsStrength(already) {
    return this.infusion && !already && (!this.request || chosenAmount(this.form)?.unit === "mL/h");
  }

  /* Where the dose is chosen or, with none of those offered, typed. */
  get amountField() {
    const { dose } = this.form.elements;
    if (dose && dose.value !== "other") return "dose";
    return contentOf(this.form).amount?.value > 0 ? "amount.unit" : "amount.value";
  }

  /* What was given is recorded whatever it was, once the rules were asked and a hard limit was named. */
  unsure() {
    if (!this.check) return _("Checking …");
    return this.hard.waits ? { words: _("Over a hard limit: confirm it above"), at: ".beyond-sure" } : "";
  }

  /* Why what is not given yet must wait; "" where it may be given. */
  held() {
    if (this.check?.verdict === "over_hard_limit") return _("Over a hard limit");
    if (this.standing.barred) return this.standing.barred;
    if (this.notAsOrdered) return _("Not as ordered: {ordered}", { ordered: this.form.dataset.orderText });
    if (this.needsOrder) return this.form.dataset.order ? _("New since it was ordered: ask before you give it") : _("Needs an order");
    const beyond = this.form.dataset.order ? "" : this.standing.beyond(chosenAmount(this.form), Boolean(this.check?.verdict));
    if (beyond) return beyond;
    if (this.waitsUntil) return _("Not before {time}", { time: clockText(this.waitsUntil) });
    if (this.check?.verdict === "needs_order") return _("Pressure first, or an order");
    if (!this.check) return _("Checking …");
    if (this.push?.short) return this.push.words;
    return prepared(this.form) ? "" : { words: `${tickText(this.form)}: ${this.wholeText()}`, at: `${field("step")}:not(:checked)` };
  }

  doseText() {
    const amount = chosenAmount(this.form);
    return doseText(this.check, amount, this.standing.measured(amount));
  }

  /* In how long it is given: " over 10 min"; "" where that was not chosen. */
  overText() {
    const picked = this.form.querySelector("input[name=over_min]:checked");
    return picked ? _(" over {time}", { time: `${picked.value} min` }) : "";
  }

  /* What it is for: " for a seizure"; "" where the treatment has one indication alone. */
  forText() {
    const { forWhat } = this.form.dataset;
    return forWhat ? _(" for {forWhat}", { forWhat }) : "";
  }

  /* Dose, volume, drug, route and in how long, as the main button and what was sent name them. */
  wholeText() {
    return `${this.doseText()} ${this.form.dataset.drug} ${this.routeText()}${this.overText()}${this.forText()}${stepsText(contentOf(this.form).titrate)}`;
  }

  readyText(already) {
    if (this.request) return _("Request {dose}", { dose: this.wholeText() });
    const done = already ? [_("Record as given"), agoText(this.form)].filter(Boolean).join(" ") : this.running ? _("Started now") : _("Given now");
    return `${done}: ${this.wholeText()}`;
  }

  routeText() {
    return this.form.querySelector("input[name=route]:checked")?.parentNode.textContent.trim() ?? "";
  }

  saysText({ status, prior }) {
    const done = this.request ? _("Order requested") : prior ? _("Given by others") : status === "running" ? _("Started") : _("Given");
    return `${done}: ${this.form.dataset.title} ${this.doseText()}, ${this.routeText()}${this.overText()}${this.forText()}${stepsText(contentOf(this.form).titrate)}`;
  }

  amend(data, already) {
    data.amount = chosenAmount(this.form);
    if (this.request && this.infusion) data.action = "start";
    if (!this.request && !already) {
      data.given_at = new Date().toISOString();
      delete data.prior; // what is given now is given by this crew
      delete data.prior_by;
    }
    if (!this.request) data.status = this.infusion || (this.running && !already) ? "running" : "given";
  }
}
