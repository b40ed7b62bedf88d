/* One form, one entry: what was filled in becomes the API's content; the entry goes into the queue and its fate is told. */

import { _ } from "../core/words.js";
import { serverNow } from "../core/clock.js";
import { collect, stepsIn, markRefused, put, readable, unreadable } from "../core/form.js";
import { newId } from "../core/send.js";
import { clockText, hereText } from "../core/times.js";
import { Asking } from "./asking.js";
import { Doubt } from "./doubt.js";
import { patientHold } from "./made_for.js";
import { leadTo, unmark } from "./missing.js";
import { orderHold } from "./order.js";
import { When, agoText, endHold, minutesAgo } from "./when.js";

/* The filled controls of a form as the API's content, with what the fields alone do not say. */
export function contentOf(form) {
  const data = collect(form);
  tidy(form, data);
  return data;
}

/* Units, "unknown" as null, a reason picked and one in words, when it happened. */
function tidy(form, data) {
  const picked = form.elements.reason_pick?.value;
  if (picked) data.reason = data.reason ? `${picked}; ${data.reason}` : picked;
  if (form.elements.age_unknown?.checked) put(data, "patient.age", null);
  if (form.elements.weight_unknown?.checked) put(data, "patient.weight", null);
  if (data.patient?.weight) data.patient.weight.unit = "kg";
  if (data.infused) data.infused.unit = "mL";
  if (data.prior_by) data.prior = true;
  if (data.titrate) stepsIn(data.titrate, form.elements["titrate.unit"].value);
  if ("eta_in" in data) { data.eta = data.eta_in; delete data.eta_in; }
  if (form.dataset.treatment) data.treatment = form.dataset.treatment;
  if (form.dataset.order) data.order = form.dataset.order;
  if (form.dataset.time) {
    data[form.dataset.time] = new Date(Date.now() - minutesAgo(form) * 60000).toISOString();
  }
  if (data.voice_order) data.voice_order.at = data[form.dataset.time];
  if (data.prior) delete data.voice_order; // what others gave was ordered by nobody here
}

const ONCE = ["answer", "understood", "done", "unable"];
const KEPT = (kept = "") => _("{kept}Kept on this phone. It is sent as soon as you are back online.", { kept });

const labelOf = (control) => control.getAttribute("aria-label") ?? control.closest("label")?.querySelector("span")?.textContent ?? _("this field");

/* A number field that holds letters, or a number that cannot be, with the button's words; "" where there is none. */
function wrongNumber(form) {
  const wrong = unreadable(form);
  if (!wrong) return "";
  const { least, most, otherUnit, otherLeast, otherMost } = wrong.dataset;
  const meant = otherUnit && readable({ value: wrong.value, dataset: { least: otherLeast, most: otherMost } }) ? `. ${otherUnit}?` : "";
  return { words: `${labelOf(wrong)}: ${least ? _("{least} to {most}", { least, most }) : "a number"}${meant}`, at: wrong };
}

export class EntryForm {
  constructor(form, queue, { complete, says, ready, brief, amend, already, beside, kept, sure, doubt } = {}) {
    Object.assign(this, { form, queue, complete, says, ready, brief, amend, already, beside, kept, sure, id: newId() });
    this.button = document.querySelector(`button[form="${form.id}"]`) ?? form.querySelector('button[type="submit"]');
    this.when = new When(form, () => this.refresh());
    this.doubt = new Doubt(form, () => this.refresh(), doubt);
    this.asking = new Asking(form, () => this.refresh());
    this.wrong = form.querySelector(".wrong[role=alert]");
    this.outcome = form.nextElementSibling?.matches(".outcome") ? form.nextElementSibling : document.querySelector(".outcome");
    this.resting = this.button.firstChild.textContent;
    form.addEventListener("submit", (event) => { event.preventDefault(); this.submit(this.already?.() ?? false); });
    form.addEventListener("input", () => this.refresh());
    form.addEventListener("change", () => this.refresh());
    for (const kind of ["order-moved", "parts"]) document.addEventListener(kind, () => this.refresh());
    this.outcome?.querySelector("[data-again]")?.addEventListener("click", () => this.again(form.hasAttribute("data-keeps")));
    queue.addEventListener("sent", ({ detail }) => detail.entry.id === this.id && this.sent(detail.answer));
    queue.addEventListener("refused", ({ detail }) => detail.entry.id === this.id && this.refused(detail));
    queue.addEventListener("opened", () => this.waitsAlready());
    setInterval(() => minutesAgo(form) > 0 && this.refresh(), 1000); // the time that it tells runs on
    this.refresh();
  }

  /* What holds the form back, as words, or as words with the field `at` which they can be mended; "" where nothing does.
     What was done already is always recorded: no order's end holds that back. */
  missing(already) {
    return endHold(this.form, this.dated(already)) || (!already && (patientHold(this.form) || orderHold(this.form))) || (this.dated(already) && this.when.held()) || this.doubt.held() || wrongNumber(this.form) || this.complete?.(this.form, already) || this.asking.held(this.twice);
  }

  /* What only a second press does, as that press says it; "" where one press is enough. */
  get twice() {
    return this.sure?.(this.form) ?? "";
  }

  /* Whether the form's time counts: what is given now has no other. */
  dated(already) {
    return already || !this.already;
  }

  /* What the form does, with its time where that is not now. */
  timed(text, already) {
    const ago = this.dated(already) ? agoText(this.form) : "";
    return ago && !text.includes(ago) ? `${text}, ${ago}` : text;
  }

  /* The button's words for a form that may go. */
  readyText(already) {
    return this.timed(this.ready?.(this.form, already) ?? this.button.dataset.ready ?? this.resting, already);
  }

  /* The main button says what it will do, and is outlined until it can do it; what was sent has none. */
  refresh() {
    if (this.form.hidden) return;
    const already = this.already?.() ?? false;
    const missing = this.missing(already);
    this.button.setAttribute("aria-disabled", String(Boolean(missing)));
    const sure = (this.dated(already) && this.when.asked) || this.doubt.asked ? _("Sure? ") : "";
    const text = missing ? missing.words ?? missing : this.asking.asked(this.twice) ? this.twice : sure + this.readyText(already);
    unmark(this.form, missing?.words);
    const label = this.button.firstChild;
    label.textContent = text;
    if (!missing && this.brief && label.scrollHeight > label.clientHeight) label.textContent = sure + this.brief(); // the rest stands above the keys
  }

  async submit(already = false) {
    const missing = this.missing(already);
    this.tell(missing && !missing.words ? missing : "");
    if (missing) return missing.words && leadTo(this.form, missing);
    if ((this.dated(already) && this.when.asks()) || this.doubt.asks() || this.asking.asks(this.twice, this.button)) return this.refresh();
    const data = contentOf(this.form);
    this.amend?.(data, already, this.form);
    const { kind, target } = this.form.dataset;
    const body = document.body.dataset;
    markRefused(this.form, null);
    const says = this.said = this.timed(this.says?.(data, this.form) ?? this.button.firstChild.textContent, already);
    const caseId = kind === "case" ? this.id : body.case;
    const isKept = await this.queue.add({ ...this.beside?.(), id: this.id, kind, case: caseId, target, data, says, who: body.who ? `${body.callSign}, ${body.who}` : body.callSign });
    if (!isKept) return undefined;
    if (this.form.dataset.replaces) await this.queue.forget(Number(this.form.dataset.replaces));
    delete this.form.dataset.replaces;
    this.form.dispatchEvent(new CustomEvent("entry-kept", { detail: { id: this.id, data } }));
    this.data = data;
    if (!this.settled) this.show("waiting", says, KEPT(this.kept));
    return undefined;
  }

  /* What is said once, and waits on this phone since before the page was opened, is not asked again. */
  async waitsAlready() {
    const { kind, target } = this.form.dataset;
    if (!ONCE.includes(kind)) return;
    const found = (await this.queue.waiting()).find((each) => each.kind === kind && each.target === target);
    if (!found || found.id === this.id) return;
    Object.assign(this, { id: found.id, said: found.says });
    this.show("waiting", found.says, KEPT());
  }

  show(state, says, text) {
    this.form.hidden = true;
    this.button.hidden = true;
    document.querySelector(".dock .keys")?.setAttribute("hidden", "");
    if (!this.outcome) return;
    this.outcome.hidden = false;
    this.outcome.dataset.state = state;
    this.outcome.querySelector("[data-says]").textContent = says;
    this.outcome.querySelector("[data-state-text]").textContent = text;
    if (state !== "waiting") return;
    this.outcome.focus({ preventScroll: true });
    this.outcome.scrollIntoView({ block: "end" }); // with what stands above it: what is due
  }

  sent(answer) {
    this.settled = true;
    const unordered = answer?.check?.findings?.find(({ code }) => code === "order_not_read_back")?.text;
    const judged = answer?.derived?.pressure?.text ?? unordered;
    this.outcome?.toggleAttribute("data-as-ordered", !unordered);
    this.show("sent", this.said, [_("Sent {time}.", { time: clockText(serverNow()) }), judged && _("Checked: {findings}.", { findings: hereText(judged) })].filter(Boolean).join(" "));
    this.form.dispatchEvent(new CustomEvent("entry-sent", { detail: answer }));
  }

  /* Refused: the form comes back as it was filled, with the problem's sentence; sent again it is a new entry. */
  refused({ entry, problem }) {
    this.settled = true;
    this.again(true);
    this.form.dataset.replaces = entry.order;
    markRefused(this.form, problem);
    this.tell(_("Not accepted: {problem}", { problem: hereText(problem.text) }));
  }

  again(keep = false) {
    if (!keep) this.form.reset();
    this.id = newId();
    this.settled = false;
    this.form.hidden = false;
    this.button.hidden = false;
    document.querySelector(".dock .keys")?.removeAttribute("hidden");
    if (this.outcome) this.outcome.hidden = true;
    this.form.dispatchEvent(new Event("change", { bubbles: true }));
  }

  tell(text) {
    this.wrong.textContent = text;
    this.wrong.hidden = !text;
    if (text) this.wrong.scrollIntoView({ block: "center" });
  }
}
