/* Where a treatment stands: what the server knew when it told, and the doses of this phone that it did not know then, be
   they kept here or sent since. So the page counts on without a link. */

import { _ } from "../core/words.js";
import { amountText, inUnit } from "../core/amounts.js";
import { line } from "../core/check.js";
import { clockText } from "../core/times.js";
import { newestPhase, takenBack, unknownTo } from "./known.js";

const MINUTE = 60000;
const NOT_IN = {
  arrest: _("Cardiac arrest: this dose is for a patient with a pulse"),
  pulse_back: _("A pulse is back: an arrest dose is not for a patient with a pulse"),
  transport: _("No cardiac arrest: an arrest dose is not for a patient with a pulse"),
  ended: _("Resuscitation has ended: give no further dose"),
};
const exact = (value) => Math.round(value * 1e6) / 1e6; // 0.3 − 0.1 is 0.2

/* What is left of a count and a total after further doses of one treatment. */
function leftAfter({ left }, doses) {
  const sum = (unit) => doses.reduce((total, { data }) => total + (inUnit(data.amount ?? {}, unit) ?? 0), 0);
  const total = left?.total && { value: Math.max(0, exact(left.total.value - sum(left.total.unit))), unit: left.total.unit };
  return { count: left?.count == null ? null : Math.max(0, left.count - doses.length), of: left?.of ?? null, total, whole: left?.counted_whole };
}

export class Standing {
  #news = []; // what of this phone the page was not told
  #own = []; // its doses
  #isBack = false; // whether a dose was taken back that the page still tells
  #page = null;
  #server = ""; // what the server told of what is left, and what stands there of our own
  #shown = null;

  constructor(queue, treatment, told) {
    Object.assign(this, { queue, treatment, told });
    queue.addEventListener("change", () => this.renew());
    document.addEventListener("parts", () => this.renew());
    this.#page = this.#told();
  }

  #told() {
    const place = document.getElementById("standing");
    return place ? JSON.parse(place.textContent) : { seq: 0 };
  }

  /* The newest that the server told, and this phone's doses that are not in it. */
  async renew() {
    const entries = await this.queue.entered(document.body.dataset.case);
    this.#page = this.#told();
    this.#news = unknownTo(this.#page.seq, entries);
    this.#own = this.#news.filter(({ kind }) => kind === "intervention");
    this.#isBack = takenBack(this.#page.seq, entries).some(({ data }) => data.target.kind === "intervention");
    this.#show();
    this.told();
  }

  /* Why it may not be given in the newest phase that the phone knows; "" where it may. */
  get barred() {
    const { phase } = newestPhase(this.#page, this.#news);
    return this.#page.phases?.length && !this.#page.phases.includes(phase) ? NOT_IN[phase] : "";
  }

  /* A check without what the doses of this phone take away: a fluid that was given since. */
  known(check) {
    const hasVolume = this.#own.some(({ group }) => ["fluid", "blood"].includes(group));
    return hasVolume && check?.findings ? { ...check, findings: check.findings.filter(({ code }) => code !== "no_fluid_yet") } : check;
  }

  get group() {
    return this.#page.group ?? "";
  }

  /* The reading that a dose asks for, to be kept with it; null where it asks for none. */
  get asks() {
    return this.#page.asks ?? null;
  }

  get #alike() {
    return this.#own.filter(({ data }) => data.treatment === this.treatment);
  }

  get left() {
    return leftAfter(this.#page, this.#alike);
  }

  /* From when on the interval has passed since the doses that only this phone knows, over the whole class; 0 without. */
  get ownNext() {
    const { every_min: every, group } = this.#page;
    const given = this.#own.filter((each) => group && each.group === group).map(({ data }) => Date.parse(data.given_at));
    return every && given.length ? Math.max(...given) + every * MINUTE : 0;
  }

  /* The same with what the server knew; for a dose that it has not checked. */
  get next() {
    return Math.max(this.ownNext, Date.parse(this.#page.next_at) || 0);
  }

  /* The syringe in hand with what is left in it by now, in mL; null where there is none. Of one that nobody recorded,
     `whole` is what a new one holds: from that a dose is drawn that the one begun does not hold, or that is `mixed` now. */
  syringeFor(volume, mixed) {
    const { syringe } = this.#page;
    if (!syringe) return null;
    const drawn = this.#alike.map((each) => each.volume ?? 0);
    const { whole } = syringe;
    if (!whole) return { ...syringe, left: Math.max(0, exact(syringe.left - drawn.reduce((sum, each) => sum + each, 0))) };
    const rest = drawn.reduce((left, each) => exact((left >= each ? left : whole) - each), syringe.left);
    return { ...syringe, left: mixed || rest <= 0 || rest < volume ? whole : rest };
  }

  /* The mL that a further dose of a fluid finds in the newest bag by now; null where none was hung. */
  get bag() {
    return this.#alike.reduce((left, { data }) => {
      const from = data.container_ml ?? left;
      return from === null ? null : Math.max(0, exact(from - (inUnit(data.amount, "mL") ?? from)));
    }, this.#page.bag ?? null);
  }

  /* What an amount is in mL of the syringe in hand; null where that cannot be told. */
  volumeOf(amount) {
    const per = this.#page.syringe?.per_ml;
    const drug = per && amount ? inUnit(amount, per.unit) : null;
    return drug === null ? null : { value: exact(drug / per.value), unit: "mL" };
  }

  /* The volume of an amount while the rules cannot be asked, "= 1 mL"; never a rounded one. */
  measured(amount) {
    const volume = this.volumeOf(amount);
    return volume && Number.isInteger(exact(volume.value * 100)) ? `= ${amountText(volume)}` : "";
  }

  /* Why this amount needs an order, as far as the page can tell; "" where it does not. */
  beyond(amount, checked) {
    const { count, of, total } = this.left;
    if (count === 0) return _("Needs an order: all {of} given", { of });
    if (total && inUnit(amount, total.unit) > total.value) return _("Needs an order: {total} left in all", { total: amountText(total) });
    const { most } = this.#page;
    return !checked && most && inUnit(amount, most.unit) > most.value ? _("Needs an order: above {most}", { most: amountText(most) }) : "";
  }

  /* The last push of this phone, where it came after the one that the page was told; what was told of pushes is left out
     where it may be of another one by now. */
  #showPush() {
    const place = document.querySelector('[data-part="pushes"]');
    if (!place) return;
    const last = Math.max(0, ...this.#alike.filter(({ data }) => !data.prior).map(({ data }) => Date.parse(data.given_at)));
    const known = place.querySelector("#wears-off");
    const told = known?.querySelector("time")?.dateTime;
    place.querySelector("#from-pushes")?.toggleAttribute("hidden", this.#isBack || this.#own.some(({ group }) => group === this.group));
    known?.toggleAttribute("hidden", this.#isBack || !told);
    if (!this.#page.lasts || !(last > (Date.parse(told) || 0))) return;
    const [from, until] = this.#page.lasts.map((minutes) => clockText(last + minutes * MINUTE));
    const said = known ?? Object.assign(line("p", "", "quiet"), { id: "wears-off" });
    said.textContent = _("Last push {last} wears off {from} to {until} · this phone", { last: clockText(last), from, until });
    said.hidden = false;
    place.prepend(said);
  }

  #show() {
    this.#showPush();
    const place = document.getElementById("left-text");
    const mine = this.#alike.length;
    if (!place) return;
    if (place.textContent !== this.#shown) this.#server = place.textContent;
    // The server may know a dose before its answer is here: once it is, what the server told holds again.
    if (!mine && place.textContent === this.#shown) place.textContent = this.#server;
    if (!mine) return;
    const { count, of, total, whole } = this.left;
    const counted = [count === null ? "" : _("{count} of {of} left", { count, of }), total ? _("{total} left in all", { total: amountText(total) }) : ""].filter(Boolean);
    if (!counted.length) return;
    if (whole) counted.push(whole);
    this.#shown = _("{counted}, with {mine} {mine2} from this phone", { counted: counted.join(", "), mine, mine2: mine === 1 ? "dose" : "doses" });
    place.textContent = this.#shown;
  }
}
