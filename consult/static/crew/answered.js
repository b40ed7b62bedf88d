/* What a page asks of the crew, or tells as it was, and this phone has answered or changed meanwhile: said where it stands, and
   whether that has gone out. */

import { _ } from "../core/words.js";
import { line } from "../core/check.js";
import { clockText } from "../core/times.js";
import { answeredAt } from "./due.js";
import { fate } from "./known.js";

const SAID = {
  answer: _("Answered on this phone"), understood: _("Understood, said on this phone"), done: _("Done, said on this phone"), unable: _("Not possible, said on this phone"),
  readback: _("Read back on this phone, NOT MATCHED YET: do not give or change it"), not_given: _("Not given or changed, said on this phone"),
  withdraw: _("Withdrawn on this phone"), withdraw_question: _("Withdrawn on this phone"), intervention: _("Given, recorded on this phone"),
  correction: _("Entered in error, said on this phone"),
};
const ONLY_BEGUN = ["understood"]; // what then remains is to do it

/* The order, instruction, question or dose that an entry is about. */
function aboutOf({ kind, target, data }) {
  if (kind === "correction") return [data.target.id];
  return kind === "intervention" || kind === "change" ? [data.order, target] : [target];
}

const about = (id, news) => news.filter((entry) => entry.kind in { ...SAID, change: "" } && aboutOf(entry).includes(id));

function ofPhone(place) {
  place.dataset.ofPhone = "";
  return place;
}

/* In the place of what a row asks, or below what a page does: of an order for several doses the next one is asked for still. */
function drawAsked(place, news, left) {
  place.parentElement.querySelector(":scope > [data-of-phone]")?.remove();
  const own = about(place.dataset.asks, news);
  const newest = own.at(-1);
  place.hidden = Boolean(newest) && place.matches(".when") && !(own.length < left);
  if (!newest) return;
  const text = SAID[newest.kind] ?? _("{change}, recorded on this phone", { change: newest.says });
  const said = place.matches(".when") ? line("p", text, "when") : line("b", `${text}, ${fate([newest])}`);
  ofPhone(said);
  if (place.matches(".when")) said.append(line("small", fate([newest])));
  place.after(said);
}

/* How much waits for the crew, less what it has answered. */
function count(waits, news) {
  const badge = document.querySelector(".pages .count");
  if (!badge) return;
  const isOpen = ([id, left]) => about(id, news).filter(({ kind }) => !ONLY_BEGUN.includes(kind)).length < left;
  const open = Object.entries(waits).filter(isOpen).length;
  badge.firstChild.textContent = open;
  badge.hidden = !open;
}

/* An alarm stands until the server has heard of it; that what it asks for was measured is said beside it. */
function besideAlarms(overdue, news) {
  const readings = news.filter(({ kind }) => kind === "vitals");
  const isAnswered = overdue.length > 0 && overdue.every(({ needs, from }) => answeredAt(needs, Date.parse(from), readings));
  for (const alarm of document.querySelectorAll("[data-of-readings]")) {
    alarm.querySelector("[data-of-phone]")?.remove();
    if (!isAnswered) continue;
    alarm.querySelector("p, span").append(ofPhone(line("small", _(" · Answered on this phone, {fate}", { fate: fate(readings) }))));
  }
}

/* The doses of this phone stand above those that the page was told, the newest first. */
function drawGiven(news) {
  const place = document.querySelector('[data-part="given"]');
  if (!place) return;
  const own = news.filter(({ kind }) => kind === "intervention").sort((one, other) => Date.parse(other.data.given_at) - Date.parse(one.data.given_at));
  place.querySelector(":scope > [data-of-phone]")?.remove();
  place.querySelector("[data-none]")?.toggleAttribute("hidden", own.length > 0);
  if (!own.length) return;
  const list = ofPhone(line("dl", "", "words"));
  for (const entry of own) {
    const [time, dose] = [line("dt", clockText(entry.data.given_at), "num"), line("dd", entry.says)];
    dose.append(line("span", _(" · this phone, {fate}", { fate: fate([entry]) }), "age"));
    list.append(time, dose);
  }
  place.querySelector("h2").after(list);
}

/* A dose that was taken back is struck through where it is listed; where pages tell doses otherwise, a line above says so, and
   it is not offered again. */
function drawTakenBack(back) {
  for (const dose of document.querySelectorAll("[data-given]")) {
    const own = about(dose.dataset.given, back);
    dose.classList.toggle("struck", own.length > 0);
    dose.querySelector("[data-of-phone]")?.remove();
    if (own.length) dose.append(ofPhone(line("span", _(" entered in error · this phone, {fate}", { fate: fate(own) }), "age")));
  }
  document.querySelector('[data-part="again"]')?.toggleAttribute("hidden", back.length > 0);
  for (const said of document.querySelectorAll(".taken-back")) said.remove();
  const place = document.querySelector('[data-part="handover"], [data-part="pushes"]');
  for (const entry of place ? back : []) place.before(ofPhone(line("p", _("{says} · this phone, {fate}", { says: entry.says, fate: fate([entry]) }), "notice taken-back")));
}

export function showAnswered(told, news, back) {
  for (const place of document.querySelectorAll("[data-asks]")) drawAsked(place, [...news, ...back], told.waits[place.dataset.asks] ?? 1);
  drawTakenBack(back);
  count(told.waits, news);
  besideAlarms(told.overdue, news);
  drawGiven(news);
}
