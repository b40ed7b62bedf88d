/* The readings that are asked for, and the next step by an order, with what this phone knows beyond the page: a dose of its
   own asks for a reading, and a reading of its own answers. So they stand without a link as the server would say them. */

import { _ } from "../core/words.js";
import { line } from "../core/check.js";
import { clockText } from "../core/times.js";
import { fate } from "./known.js";
import { decidingMean } from "./pressure.js";

const MINUTE = 60000;
export const STILL = ["held", "finished", "stopped"]; // a pressor that runs no more asks for no further pressure
const has = (...names) => (data) => names.some((name) => data[name] !== undefined);
const pressure = (data) => data.bp_method === "unobtainable" || has("sbp", "map_reported")(data);
const NEEDS = {
  pressure, pressure_or_pulses: (data) => pressure(data) || has("pulses")(data), alertness: has("avpu", "gcs"), glucose: has("glucose_mg_dl", "glucose_mmol_l", "glucose_flag"),
  heart_rate: has("hr"), temperature: has("temp_c", "temp_f"),
};
const holds = (need) => NEEDS[need] ?? has(need);
const at = (entry) => Date.parse(entry.data.taken_at ?? entry.data.given_at ?? entry.data.at);
const latest = (entries) => entries.reduce((newest, each) => Math.max(newest, at(each)), 0);

/* From when a reading counts after a dose and when it is due, in ms; as `reassess._times` on the server. */
function timesOf(asks, { given_at: given, over_min: over, ended_at: ended }) {
  const start = Date.parse(given);
  if (!asks.counts_from_end) return { from: start + asks.counts_from_min * MINUTE, due: start + asks.due_min * MINUTE };
  const most = asks.max_min === null ? Infinity : start + asks.max_min * MINUTE;
  if (most < Infinity && !over && !ended) return { from: most, due: most };
  const end = ended ? Date.parse(ended) : start + (over ?? 0) * MINUTE;
  const due = Math.min(end + asks.due_min * MINUTE, most);
  return { from: Math.min(end, due), due };
}

/* When these readings held all that is needed from a time on, the newest of those; 0 while something is missing. */
export function answeredAt(needs, from, readings) {
  const counting = readings.filter((each) => at(each) >= from);
  return needs.every((need) => counting.some(({ data }) => holds(need)(data))) ? latest(counting) : 0;
}

function draw({ needs, after, also = "", due }) {
  const place = line("section", "", "due");
  Object.assign(place.dataset, { ofPhone: "", state: "waiting" });
  place.setAttribute("aria-label", _("Reassessment"));
  const time = line("p", "", "due-time num");
  Object.assign(time.dataset, { in: "", due: new Date(due).toISOString() });
  place.append(line("b", _("Reassess: {needs}", { needs })), line("p", after));
  if (also) place.append(line("p", _("Also look at {also}", { also }), "quiet"));
  place.append(time);
  return place;
}

/* The pressure after the one that was just taken, while a pressor runs. */
const drawNext = (after, pressureAt, againMin) => draw({
  needs: _("pressure"), due: pressureAt + againMin * MINUTE,
  after: _("after {after}: due by {due}, from the pressure at {at} · this phone", { after, due: clockText(pressureAt + againMin * MINUTE, false), at: clockText(pressureAt, false) }),
});

/* That what was asked for was measured here, in its place. */
function drawAnswered(asked, readings) {
  const said = line("p", _("{asked} after {because}: answered on this phone, {fate}", { asked: asked.querySelector("b").textContent, because: asked.dataset.because, fate: fate(readings) }), "from-phone");
  said.dataset.ofPhone = "";
  return said;
}

/* What the page was told to ask for: gone once this phone has the answer, and asked anew for what runs. */
function renewTold(place, told, readings, became) {
  for (const asked of place.querySelectorAll(".due:not([data-of-phone])")) {
    const { needs, readsFrom, intervention, because } = asked.dataset;
    const answered = answeredAt(needs.split(" "), Date.parse(readsFrom), readings);
    asked.hidden = Boolean(answered);
    if (answered) asked.after(drawAnswered(asked, readings));
    if (answered && told.pressors.includes(intervention) && !STILL.includes(became.get(intervention))) asked.after(drawNext(because, answered, told.again_min));
  }
}

/* What a dose asks for that only this phone knows. */
function drawOwn({ asks, data }, told, readings) {
  const times = timesOf(asks, data);
  const answered = answeredAt(asks.needs, times.from, readings);
  if (answered) return asks.again && data.status === "running" ? drawNext(asks.because, answered, told.again_min) : null;
  return draw({ needs: asks.needs_text, also: asks.also_text, due: times.due, after: _("after {after} · this phone", { after: asks.because }) });
}

export function showDues(told, news, inArrest) {
  const readings = news.filter(({ kind }) => kind === "vitals");
  const became = new Map(news.filter(({ kind, data }) => kind === "change" && data.status).map(({ target, data }) => [target, data.status])); // the last counts
  const own = news.filter(({ kind, asks, data }) => kind === "intervention" && asks && !(data.prior && !asks.again));
  for (const place of document.querySelectorAll('[data-part="dues"]')) {
    for (const drawn of place.querySelectorAll("[data-of-phone]")) drawn.remove();
    renewTold(place, told, readings, became);
    for (const each of own) {
      const drawn = drawOwn(each, told, readings);
      if (drawn) place.append(drawn);
    }
    if (inArrest) for (const each of place.children) each.hidden = true;
  }
}

/* From when a pressure comes before the next step, in ms, by what this phone knows; null where the page's word stands. */
function pressureFrom({ readsFrom }, told, newest, dosed) {
  const taken = newest ? Date.parse(newest.at) : 0;
  if (dosed && dosed >= taken) return dosed;
  return taken && taken >= Date.parse(readsFrom) ? taken + Math.min(told.fresh_min, told.again_min) * MINUTE : null;
}

/* Whether the pressure of this phone wants no further step. */
function atGoal({ goalMeasure, goalFloor }, { data }) {
  const value = goalMeasure === "map" ? decidingMean(data) : data.sbp ?? null;
  return value !== null && data.bp_method !== "unobtainable" && value >= Number(goalFloor);
}

/* The newest step that was set by this order on this phone and that the page was not told. */
const stepSet = (order, news) => news.findLast(({ kind, data }) => kind === "change" && data.order === order && data.amount);

const isStep = (step, amount) => Boolean(step && amount) && ["value", "unit"].every((part) => JSON.parse(step)[part] === amount[part]);

export function showSteps(told, news, newest) {
  const dosed = latest(news.filter(({ kind, group }) => kind === "intervention" && group === "pressor"));
  for (const { dataset } of document.querySelectorAll(".stepping > [data-part]")) {
    const from = pressureFrom(dataset, told, newest, dosed);
    const set = stepSet(dataset.part.slice("step-".length), news);
    if (from === null) delete dataset.phonePressureAt;
    else dataset.phonePressureAt = new Date(from).toISOString();
    if (newest) dataset.phoneGoal = atGoal(dataset, newest) ? "yes" : "no";
    else delete dataset.phoneGoal;
    dataset.phoneSet = isStep(dataset.step, set?.data.amount) ? dataset.step : "";
  }
}
