/* The newest pressure that this phone knows, in place of an older one that the page was told: kept here, or sent since the
   page was kept. What the page warns of follows it. */

import { _, words } from "../core/words.js";
import { line } from "../core/check.js";
import { tick } from "../core/times.js";
import { showAnswered } from "./answered.js";
import { showDues, showSteps } from "./due.js";
import { showHeld } from "./held.js";
import { newestPhase, takenBack, unknownTo } from "./known.js";
import { showPatient } from "./made_for.js";
import { preview } from "./pressure.js";

const MINUTE = 60000;
const WANTS_PRESSURE = ["pressure_unknown", "pressure_stale", "no_pressure_since_last_dose"].map((code) => `.rows [data-code="${code}"]`).join();
const VOLUMES = ["fluid", "blood"];

const vitalsIn = (news) => news.filter(({ kind }) => kind === "vitals").sort((one, other) => Date.parse(one.data.taken_at) - Date.parse(other.data.taken_at));

/* The newest of these readings that is newer than what the page was told, {seq, at, seen}; null where none is. */
function newestOf(told, news) {
  const readings = vitalsIn(news).map(({ seq, data }) => ({ seq, at: data.taken_at, data, seen: preview(data, told.limits) }));
  return readings.findLast(({ at, seen }) => seen && !(Date.parse(told.taken_at) > Date.parse(at))) ?? null;
}

function stateLine(tag, seen, at, told, inArrest) {
  const state = line(tag, inArrest ? _("Taken in the arrest") : seen.word, tag === "p" ? "state" : "");
  const word = /^MAP/.test(seen.word) ? seen.word : seen.word.toLowerCase();
  const old = { oldAfter: new Date(Date.parse(at) + told.fresh_min * MINUTE).toISOString(), oldWord: inArrest ? _("Taken in the arrest") : _("Last: {word}", { word }) };
  Object.assign(state.dataset, { state: inArrest ? "unknown" : seen.state, ...old });
  return state;
}

/* As `crew_case._low` says it. */
function lowText({ state, measure, lead, goal }) {
  if (!["critical", "below_goal"].includes(state)) return "";
  return /^\d/.test(lead) ? _("{name} {lead} is below {goal}", { name: measure, lead, goal: goal === null ? _("the goal") : `${measure === "SBP" ? _("SBP goal") : _("goal")} ${goal}` }) : _("No pressure was obtainable");
}

function draw(place, { seq, at, seen }, told, inArrest) {
  const isNow = place.dataset.part === "now";
  const value = line("p", seen.lead, isNow ? "now-value num" : "last-value num");
  value.toggleAttribute("data-long", seen.lead.length > 4);
  value.toggleAttribute("data-tenth", seen.lead.length <= 4 && seen.lead.includes("."));
  const age = line("time", "");
  age.dataset.age = at;
  const name = line("p", "", isNow ? "now-name" : "");
  name.append(line("b", seen.measure), " ", line("span", "mmHg", "unit"), " · ", age);
  const rest = [seen.beside, seen.goal === null ? "" : `${seen.measure === "SBP" ? _("SBP goal") : _("goal")} ${seen.goal}`, seq === null ? _("kept on this phone") : _("sent from this phone")];
  const beside = document.createElement("div");
  beside.append(name, stateLine("p", seen, at, told, inArrest), line("p", rest.filter(Boolean).join(" · "), "from-phone"));
  place.dataset.low = lowText(seen);
  place.replaceChildren(value, beside);
}

/* The line of one measurement in the case's list; one that was never taken before has none yet. */
function lineOf(key, name) {
  const known = document.querySelector(`[data-measured="${key}"]`);
  if (known) return known;
  const place = line("dd", "", "num");
  place.dataset.measured = key;
  document.querySelector("#measured > dt:last-of-type").before(line("dt", name), place);
  return place;
}

/* A value with its age, and that it is of this phone. */
function put(place, value, at) {
  const age = line("time", "", "age");
  age.dataset.age = at;
  place.replaceChildren(value, " ", age, line("span", _(" · this phone"), "age"));
}

/* All other measurements, each where this phone knows a newer one. */
function drawOthers(news) {
  const names = document.getElementById("measurement-names");
  if (!names) return;
  for (const [name, key, short, unit, spoken] of JSON.parse(names.textContent)) {
    const newest = vitalsIn(news).findLast(({ data }) => data[name] !== undefined)?.data;
    const shownAt = document.querySelector(`[data-measured="${key}"] time`)?.dataset.age;
    if (newest && !(Date.parse(shownAt) > Date.parse(newest.taken_at))) put(lineOf(key, short), `${spoken[newest[name]] ?? words(newest[name])} ${unit}`.trim(), newest.taken_at);
  }
}

/* That the signs on the page are older than what this phone has measured. */
function tellOldSigns(news) {
  document.getElementById("signs-before")?.toggleAttribute("hidden", !vitalsIn(news).length);
}

/* That a pressure is missing, or old, is wrong once this phone has a newer one, and gave nothing after it. */
function answer(at, news) {
  const later = news.some(({ kind, data }) => kind === "intervention" && Date.parse(data.given_at) > Date.parse(at));
  for (const finding of document.querySelectorAll(WANTS_PRESSURE)) finding.hidden = !later;
}

/* Systolic over diastolic among what was measured: of the same reading as what stands above it. */
function drawCuff({ at, data: { sbp, dbp, bp_method: method } }) {
  const place = document.querySelector('[data-measured="bp"]');
  if (!place || (method !== "unobtainable" && sbp === undefined)) return;
  put(place, method === "unobtainable" ? _("unobtainable") : `${sbp}/${dbp ?? "P"} mmHg`, at);
}

/* The bar on top and the lines of the case's page: a low pressure stands no longer than it is low. */
function warn({ seen }, inArrest) {
  const isCritical = seen.state === "critical" && !inArrest;
  const text = _("{measure} {lead}, critical", { measure: seen.measure, lead: seen.lead });
  for (const alarm of document.querySelectorAll(".alarm[data-of-pressure]")) alarm.hidden = !isCritical;
  const bar = document.querySelector('[data-part="high"]');
  const known = bar?.querySelector("p");
  if (known && "ofPressure" in known.dataset) {
    known.hidden = !isCritical && !known.dataset.more;
    known.querySelector("b").textContent = isCritical ? _("High: {text}", { text }) : _("High: see the alerts of the case");
  } else if (bar && !known && isCritical && !document.querySelector('[data-part="now"]')) {
    const said = line("p", "");
    Object.assign(said.dataset, { ofPressure: "", ofPhone: "" });
    said.append(line("span", "!"), line("b", _("High: {text}", { text })));
    bar.append(said);
  } else if (known && "ofPhone" in known.dataset) known.remove();
}

export function startNewest(queue) {
  const show = async () => {
    const place = document.getElementById("page-told");
    if (!place) return;
    const told = JSON.parse(place.textContent);
    const entries = await queue.entered(document.body.dataset.case);
    const news = unknownTo(told.seq, entries);
    showPatient(told, entries);
    const hasVolume = news.some(({ kind, group }) => kind === "intervention" && VOLUMES.includes(group));
    for (const finding of document.querySelectorAll('[data-code="no_fluid_yet"]')) finding.hidden = hasVolume;
    const { phase } = newestPhase(told, news);
    const inArrest = phase === "arrest";
    for (const step of document.querySelectorAll(".stepping")) step.hidden = inArrest || phase === "ended";
    drawOthers(news);
    tellOldSigns(news);
    const newest = newestOf(told, news);
    showDues(told, news, inArrest || phase === "ended");
    showSteps(told, news, newest);
    showHeld(news);
    showAnswered(told, news, takenBack(told.seq, entries));
    tick();
    if (!newest) return;
    answer(newest.at, news);
    drawCuff(newest);
    for (const each of document.querySelectorAll('[data-part="now"], [data-part="last"]')) draw(each, newest, told, inArrest);
    warn(newest, inArrest);
    tick();
  };
  queue.addEventListener("change", show);
  document.addEventListener("parts", show);
  return show();
}
