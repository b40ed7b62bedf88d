/* Cardiac arrest: each press is an entry of its own, kept on this phone first. What the server told and what this phone has
   entered since make up the page, so that it works and counts on without a link. */

import { _ } from "../core/words.js";
import { amountOf } from "../core/form.js";
import { newId } from "../core/send.js";
import { clockText, tick } from "../core/times.js";
import { ANSWERS, newestPhase, unknownTo } from "./known.js";

const MINUTE = 60000;
const TWICE_MS = 1200; // a second press of the same key within that is a slip
const SOON = 0.5; // of a drug's interval: a dose before that is asked about
const ASKED_MS = 8000; // so long the question stands
const LOGGED = 5;
const MISTAKE = _("Pressed by mistake");
const AIRWAY = "airway";

const byId = (id) => document.getElementById(id);
const now = () => new Date().toISOString();
const latest = (times) => times.filter(Boolean).sort().at(-1) ?? null;

/* What a key enters: its kind and content. */
const PRESSES = {
  phase: ({ value }) => ["phase", { phase: value, at: now() }],
  procedure: ({ value, site }) => ["procedure", { procedure: value, at: now(), outcome: "done", ...(site && { site }) }],
  rhythm: ({ value }) => ["vitals", { taken_at: now(), rhythm: value }],
  note: ({ value }) => ["note", { text: value, at: now() }],
  dose: ({ treatment, value, route }) => ["intervention", { treatment, amount: amountOf(value), route, given_at: now() }],
  shock: ({ value }) => ["procedure", { procedure: "defibrillation", at: now(), outcome: "done", settings: { joules: Number(value), synchronized: false } }],
};

/* Whether the page's list of rhythms marks it so, by its name or the short one. */
const isShockable = (rhythm) => [...document.querySelectorAll("[data-shockable]")]
  .some(({ dataset }) => [dataset.value, dataset.shockable].some((name) => name.toLowerCase() === rhythm?.toLowerCase()));

class Arrest {
  #own = new Map(); // what this phone has entered, by id: the entry, and its place in the journal once it has one
  #pressed = { key: null, at: 0 };
  #unfolded = null; // whether all that was entered just now stood open, as it does in an arrest
  #asked = null; // the key that was pressed for a dose so soon after the last one

  constructor(queue) {
    this.queue = queue;
    this.case = document.body.dataset.case;
    document.addEventListener("click", (event) => {
      const key = event.target.closest("[data-press]");
      if (key) this.press(key);
      const wrong = event.target.closest("[data-take-back]");
      if (wrong) this.takeBack(wrong.dataset.takeBack);
    });
    queue.addEventListener("sent", ({ detail: { entry, answer } }) => { if (this.#own.has(entry.id)) this.#own.get(entry.id).seq = answer?.seq ?? 0; this.show(); });
    queue.addEventListener("refused", ({ detail: { entry } }) => { this.#own.delete(entry.id); this.show(); });
    queue.addEventListener("not-kept", () => { this.#pressed.key = null; }); // the next press is no slip
    queue.addEventListener("opened", () => this.take());
    document.addEventListener("parts", () => this.show());
    this.show();
  }

  /* What this phone knows from before the page was opened, and the page may not. */
  async take() {
    const { seq } = this.#told();
    const isNews = (entry) => entry.state !== "refused" && !ANSWERS.includes(entry.kind) && entry.kind !== "patch" && (entry.seq === null || entry.seq > seq);
    for (const entry of (await this.queue.entered(this.case)).filter(isNews)) this.#own.set(entry.id, entry);
    this.show();
  }

  #told() {
    return JSON.parse(byId("arrest-told").textContent);
  }

  async press(key) {
    const time = performance.now();
    if (this.#pressed.key === key && time - this.#pressed.at < TWICE_MS) return;
    this.#pressed = { key, at: time };
    const { press, from } = key.dataset;
    if (press === "dose" && this.#asks(key)) return;
    const value = from ? byId(from).value.replace(",", ".").trim() : key.dataset.value;
    if (from && !(Number(value) >= 1 && Number(value) <= 360)) { byId(from).focus(); return; }
    const [kind, data] = PRESSES[press]({ ...key.dataset, value });
    if (!await this.enter(kind, data, press === "shock" ? _("Shock {joules} J", { joules: value }) : key.dataset.says)) return;
    if (from) byId(from).value = "";
    key.closest("details.arrest-end, details.arrest-control")?.removeAttribute("open");
    if (press === "phase") this.#leadTo(byId("arrest-work").hidden ? byId("arrest-back") : byId("arrest-work"));
  }

  /* Whether this press only asks, since the last dose was given just before; the next one is the answer. */
  #asks(key) {
    const { last, every } = key.closest("[data-dose]").dataset;
    const soon = last && Date.now() - Date.parse(last) < SOON * Number(every || 1) * MINUTE;
    const asks = Boolean(soon) && this.#asked !== key;
    this.#asked = asks ? key : null;
    if (asks) setTimeout(() => { if (this.#asked === key) { this.#asked = null; this.show(); } }, ASKED_MS);
    this.show();
    return asks;
  }

  /* The top of what is to be done now: the focus alone would bring the middle of it into view. */
  #leadTo(part) {
    part.focus({ preventScroll: true });
    part.scrollIntoView({ block: "start" });
  }

  /* True once it is kept: what stands on the page must not be lost by leaving it. */
  async enter(kind, data, says) {
    const { callSign, who } = document.body.dataset;
    const entry = { id: newId(), kind, case: this.case, data, says, who: `${callSign}, ${who}`, ...(kind === "intervention" && { group: data.treatment }) };
    if (!await this.queue.add(entry)) return false;
    this.#own.set(entry.id, { ...entry, seq: null });
    byId("arrest-said").textContent = `${says}, ${clockText(Date.now())}`;
    this.show();
    return true;
  }

  takeBack(id) {
    const { kind, says } = this.#own.get(id);
    return this.enter("correction", { target: { kind, id }, reason: MISTAKE, at: now() }, _("Undone: {entry}", { entry: says }));
  }

  show() {
    const told = this.#told();
    const news = unknownTo(told.seq, [...this.#own.values()]);
    const { phase, since } = newestPhase(told, news);
    const arrest = phase === "arrest";
    for (const next of document.querySelectorAll("#again, .stepping")) next.hidden = arrest || phase === "ended";
    byId("arrest-control").hidden = arrest || phase === "ended";
    byId("arrest-work").hidden = !arrest;
    document.body.toggleAttribute("data-arrest", arrest);
    byId("arrest-since").dataset.count = since ?? "";
    this.#showBack(phase, since, told);
    if (arrest) this.#showWork(told, news);
    this.#showLog(arrest);
    tick();
  }

  #showBack(phase, since, { set_min: minutes, phase: known }) {
    const back = byId("arrest-back");
    back.hidden = phase !== "pulse_back" || known === phase; // once the server knows, it asks itself
    byId("back-since").dataset.since = since ?? "";
    byId("back-due").dataset.due = since ? new Date(Date.parse(since) + minutes * MINUTE).toISOString() : "";
  }

  #showWork(told, news) {
    const procedures = news.filter(({ kind }) => kind === "procedure").map(({ data }) => data);
    const at = (name) => procedures.filter(({ procedure }) => procedure === name);
    this.#showCompressions(told, at);
    const rhythm = this.#showRhythm(told, news);
    this.#showShocks(told, at("defibrillation"), isShockable(rhythm));
    for (const line of document.querySelectorAll("[data-dose]")) this.#showDose(line, told.doses[line.dataset.dose], news);
    const airway = at(AIRWAY).at(-1);
    if (airway) byId("airway-word").textContent = `${airway.site.toLowerCase()}, ${clockText(airway.at, false)}`;
    const considered = new Set([...told.considered, ...news.filter(({ kind }) => kind === "note").map(({ data }) => data.text)]);
    const causes = [...document.querySelectorAll('[data-press="note"]')];
    for (const key of causes) {
      key.setAttribute("aria-pressed", String(considered.has(key.dataset.value)));
      key.disabled = considered.has(key.dataset.value);
    }
    byId("causes-count").textContent = _("{done} of {count} considered", { done: causes.filter((key) => key.disabled).length, count: causes.length });
  }

  /* The newest rhythm, by name. */
  #showRhythm(told, news) {
    const own = news.filter(({ kind, data }) => kind === "vitals" && data.rhythm).at(-1)?.data;
    const read = own ? { value: own.rhythm, taken_at: own.taken_at } : told.rhythm;
    byId("rhythm-word").textContent = read.value ? `${read.value}, ${clockText(read.taken_at, false)}` : _("not told");
    return read.value;
  }

  /* The cycle runs down; while they are paused the seconds of the pause run up in its place. */
  #showCompressions(told, at) {
    const began = latest([told.compressions_at, ...at("cpr").map((each) => each.at)]);
    const pressed = latest([told.paused_at, ...at("cpr_pause").map((each) => each.at)]);
    const paused = pressed && !(Date.parse(began) > Date.parse(pressed)) ? pressed : "";
    const clock = byId("cycle");
    clock.dataset.count = paused;
    clock.dataset.due = began && !paused ? new Date(Date.parse(began) + told.cycle_min * MINUTE).toISOString() : "";
    if (!began && !paused) clock.textContent = "";
    byId("cycle-word").textContent = paused ? _("PAUSED for") : began ? _("rhythm check in") : _("not recorded");
    byId("pause").disabled = Boolean(paused);
  }

  #showShocks(told, own, shockable) {
    const last = [...own.map((each) => ({ at: each.at, joules: each.settings.joules })), ...(told.last_shock ? [told.last_shock] : [])]
      .sort((one, other) => one.at.localeCompare(other.at)).at(-1);
    byId("shocks").textContent = told.shocks + own.length;
    this.#offer(last?.joules && String(last.joules), shockable);
    byId("shock-word").textContent = last ? _("last{joules}, {last}", { joules: last.joules ? ` ${last.joules} J` : "", last: clockText(last.at, false) }) : "";
  }

  /* The last energy is one press away, and leads only in a rhythm that is shocked; no key moves under a thumb. */
  #offer(last, shockable) {
    const keys = [...byId("energies").children];
    const joules = last ?? keys[0]?.dataset.value;
    if (joules && !keys.some(({ dataset }) => dataset.value === joules)) {
      const key = Object.assign(document.createElement("button"), { className: "press", type: "button", textContent: _("Shock {joules} J", { joules }) });
      Object.assign(key.dataset, { press: "shock", value: joules });
      byId("energies").append(key);
    }
    for (const key of byId("energies").children) key.classList.toggle("press-main", shockable && key.dataset.value === joules);
  }

  #showDose(line, told, news) {
    const own = news.filter(({ kind, data }) => kind === "intervention" && data.treatment === line.dataset.dose);
    const given = (told?.count ?? 0) + own.length;
    const last = latest([told?.last_at, ...own.map(({ data }) => data.given_at)]);
    const next = last && line.dataset.every ? new Date(Date.parse(last) + Number(line.dataset.every) * MINUTE).toISOString() : "";
    line.querySelector("[data-count-given]").textContent = given;
    line.dataset.last = last ?? "";
    const word = line.querySelector("[data-dose-word]");
    word.classList.toggle("asks", line.contains(this.#asked));
    word.textContent = line.contains(this.#asked) ? _("Another dose so soon? Press again") : last ? _("last {last}{next}", { last: clockText(last, false), next: next ? _(", next from") : "" }) : _("none given");
    const clock = line.querySelector("[data-dose-clock]");
    clock.dataset.due = next;
    if (!next) clock.textContent = "";
  }

  /* What was just pressed, with a way to take it back: in an arrest the last one at the foot, in sight of all keys, with a
     pulse again all but that folded away. Of the phases the newest alone: no press takes a whole arrest back. */
  #showLog(arrest) {
    const wrong = new Set([...this.#own.values()].filter(({ kind }) => kind === "correction").map(({ data }) => data.target.id));
    const entries = [...this.#own.values()].filter(({ kind }) => kind !== "correction").slice(-LOGGED).reverse();
    const phase = entries.find(({ id, kind }) => kind === "phase" && !wrong.has(id))?.id;
    const lines = entries.map(({ id, kind, says, seq, data }) => {
      const line = document.createElement("li");
      const text = `${clockText(data.at ?? data.taken_at ?? data.given_at)} ${says}${wrong.has(id) ? _(", entered in error") : seq === null ? _(", kept on this phone") : ""}`;
      line.append(Object.assign(document.createElement("span"), { textContent: text, className: wrong.has(id) ? "struck" : "" }));
      if (!wrong.has(id) && (kind !== "phase" || id === phase)) {
        const back = Object.assign(document.createElement("button"), { type: "button", className: "quiet-big", textContent: _("Undo"), ariaLabel: _("Undo: {entry}", { entry: says }) });
        back.dataset.takeBack = id;
        line.append(back);
      }
      return line;
    });
    const last = lines.splice(0, 1);
    for (const [list, its] of [["arrest-last", arrest ? last : []], ["arrest-newest", arrest ? [] : last], ["arrest-log", lines]]) {
      byId(list).replaceChildren(...its);
      byId(list).parentElement.hidden = !its.length;
    }
    const fold = byId("arrest-log").parentElement;
    fold.parentElement.hidden = arrest ? !lines.length : !last.length;
    if (this.#unfolded !== arrest) this.#unfolded = fold.open = arrest;
  }
}

export function startArrest(queue) {
  if (byId("arrest-work")) new Arrest(queue);
}
