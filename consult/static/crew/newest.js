/* The newest pressure that this phone knows, in place of an older one that the page was told: kept here, or sent since the
   page was kept. What the page warns of follows it. */

import { _ } from "../core/words.js";
import { line } from "../core/check.js";
import { tick } from "../core/times.js";
import { newestPhase, unknownTo } from "./known.js";
import { preview } from "./pressure.js";

const MINUTE = 60000;
const VOLUMES = ["fluid", "blood"];

/* The newest of these readings that is newer than what the page was told, {seq, at, seen}; null where none is. */
function newestOf(told, news) {
  const readings = news.filter(({ kind }) => kind === "vitals").map(({ seq, data }) => ({ seq, at: data.taken_at, data, seen: preview(data, told.limits) }));
  const newer = readings.filter(({ at, seen }) => seen && !(Date.parse(told.taken_at) > Date.parse(at)));
  return newer.sort((one, other) => Date.parse(one.at) - Date.parse(other.at)).at(-1) ?? null;
}

function stateLine(tag, seen, at, told, inArrest) {
  const state = line(tag, inArrest ? _("Taken in the arrest") : seen.word, tag === "p" ? "state" : "");
  const word = /^MAP/.test(seen.word) ? seen.word : seen.word.toLowerCase();
  const old = { oldAfter: new Date(Date.parse(at) + told.fresh_min * MINUTE).toISOString(), oldWord: inArrest ? _("Taken in the arrest") : _("Last: {word}", { word }) };
  Object.assign(state.dataset, { state: inArrest ? "unknown" : seen.state, ...old });
  return state;
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
  place.replaceChildren(value, beside);
}

/* Systolic over diastolic among what was measured: of the same reading as what stands above it. */
function drawCuff({ at, data: { sbp, dbp, bp_method: method } }) {
  const place = document.querySelector('[data-measured="bp"]');
  if (!place || (method !== "unobtainable" && sbp === undefined)) return;
  const age = line("time", "", "age");
  age.dataset.age = at;
  place.replaceChildren(method === "unobtainable" ? _("unobtainable") : `${sbp}/${dbp ?? "P"} mmHg`, " ", age);
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
    const place = document.getElementById("pressure-told");
    if (!place) return;
    const told = JSON.parse(place.textContent);
    const news = unknownTo(told.seq, await queue.entered(document.body.dataset.case));
    const hasVolume = news.some(({ kind, group }) => kind === "intervention" && VOLUMES.includes(group));
    for (const finding of document.querySelectorAll('[data-code="no_fluid_yet"]')) finding.hidden = hasVolume;
    const { phase } = newestPhase(told, news);
    const inArrest = phase === "arrest";
    for (const step of document.querySelectorAll(".stepping")) step.hidden = inArrest || phase === "ended";
    const newest = newestOf(told, news);
    if (!newest) return;
    drawCuff(newest);
    for (const each of document.querySelectorAll('[data-part="now"], [data-part="last"]')) draw(each, newest, told, inArrest);
    warn(newest, inArrest);
    tick();
  };
  queue.addEventListener("change", show);
  document.addEventListener("parts", show);
  return show();
}
