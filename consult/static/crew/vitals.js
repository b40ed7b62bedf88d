/* Vitals: the pressure judged while it is typed; palpated has no diastolic, and none obtainable has no numbers at all. */

import { _, words } from "../core/words.js";
import { serverNow } from "../core/clock.js";
import { readable } from "../core/form.js";
import { clockText } from "../core/times.js";
import { EntryForm, contentOf } from "./entry.js";
import { field } from "./missing.js";
import { startOtherUnits } from "./other_unit.js";
import { preview, unjudged } from "./pressure.js";
import { unlikely } from "./unlikely.js";
import { agoText, minutesAgo } from "./when.js";

const JUDGED = ["sbp", "dbp", "map_reported", "bp_method"];
const PRESSURE = ["sbp", "dbp", "bp_method"]; // said as one
const UNSAID = [...PRESSURE, "taken_at", "source"]; // the others are no measurement

function pressureText({ sbp, dbp, bp_method: method }, methods) {
  const by = methods[method] ?? method;
  if (method === "unobtainable") return _("no pressure obtainable");
  if (sbp === undefined) return method && method !== "palpated" ? _("by {by}", { by }) : "";
  return `${sbp}/${method === "palpated" ? "P" : dbp ?? "?"} mmHg${method in methods ? _(" by {by}", { by }) : ""}`;
}

/* Every value of a set, each named; a measurement that this page does not know by its own name. The page says how each
   measurement is said, in the order of its form: `[name, said, spoken]`, such as `["temp_c", "temp {} °C", {}]`. */
function vitalsNames(data, measurements) {
  const methods = measurements.find(([name]) => name === "bp_method")[2];
  const known = measurements.filter(([name]) => data[name] !== undefined && !PRESSURE.includes(name));
  const told = known.map(([name, said, spoken]) => said.replace("{}", () => spoken[data[name]] ?? data[name]));
  const others = Object.keys(data).filter((name) => !UNSAID.includes(name) && !measurements.some(([each]) => each === name));
  return [pressureText(data, methods), ...told, ...others.map((name) => `${words(name)} ${data[name]}`)].filter(Boolean);
}

export const vitalsText = (data, measurements) => vitalsNames(data, measurements).join(", ");

/* A number still being typed is no reading yet: its first digits would pass for a pressure; nor is one that cannot be. */
function settledReading(form, data) {
  const typing = form.contains(document.activeElement) ? document.activeElement.name : "";
  const reading = Object.fromEntries(JUDGED.filter((name) => name in data).map((name) => [name, data[name]]));
  const wrong = ["sbp", "dbp", "map_reported"].some((name) => name in reading && name !== typing && !readable(form.elements[name]));
  if (wrong || reading.dbp > reading.sbp) return { bp_method: reading.bp_method === "unobtainable" ? reading.bp_method : undefined };
  if (!readable(form.elements.sbp)) delete reading.sbp;
  if (typing === "dbp" && reading.dbp < 10) delete reading.dbp;
  if (typing === "map_reported" && reading.map_reported < 20) delete reading.map_reported;
  return reading;
}

function show(seen, waiting, typed) {
  const value = document.getElementById("now-value");
  value.textContent = waiting ? "–" : seen?.lead ?? "–";
  value.toggleAttribute("data-empty", value.textContent === "–");
  value.toggleAttribute("data-long", value.textContent.length > 4);
  value.toggleAttribute("data-tenth", value.textContent.includes("."));
  const state = document.getElementById("now-state");
  state.dataset.state = waiting || !seen ? "waiting" : seen.state;
  state.textContent = waiting ? _("Diastolic?") : seen?.word ?? (typed ? _("Check the numbers") : _("Not typed yet"));
  document.getElementById("now-measure").textContent = seen && !waiting ? seen.measure : "MAP";
  return seen;
}

function goalText(seen, resting) {
  if (!seen || seen.goal === null) return resting;
  const goal = `${seen.measure === "SBP" ? _("SBP goal") : "goal"} ${seen.goal}`;
  return [seen.beside, seen.short ? _("{goal}, short by {short}", { goal, short: seen.short }) : goal].filter(Boolean).join(" · ");
}

/* The cuff is chosen beforehand: without a pressure that says nothing. */
function withoutMethod(form, data) {
  const untouched = form.querySelector("[name=bp_method]:checked")?.defaultChecked;
  if (untouched && (data.sbp ?? data.dbp ?? data.map_reported) === undefined) delete data.bp_method;
  return data;
}

/* What is filled in as it would be sent, without the time. */
function typed(form) {
  const { taken_at, ...values } = withoutMethod(form, contentOf(form));
  return values;
}

/* A set that was taken earlier says so. */
const takenText = (form) => (minutesAgo(form) > 0 ? _("taken {time}", { time: agoText(form) }) : "");

/* Until when what is measured says nothing yet of the last dose, or "" where it counts. */
function tooEarly(form) {
  const taken = serverNow() - minutesAgo(form) * 60000;
  const from = [...document.querySelectorAll("[data-counts-from]")].map((each) => each.dataset.countsFrom).find((time) => taken < Date.parse(time));
  return from ? _("too early for the reassessment: that counts from {from}", { from: clockText(from) }) : "";
}

const receiptText = (form, data, measurements) => [[vitalsText(data, measurements), takenText(form)].filter(Boolean).join(", "), tooEarly(form)].filter(Boolean).join("; ");

/* How many numbers and words were filled in: a pressure over another is two. */
const count = (data, measurements) => vitalsNames(data, measurements).length + Number(data.sbp !== undefined && data.dbp !== undefined);

const briefText = (count) => (count === 1 ? _("Send the value above") : _("Send the {count} values above", { count }));

function missing({ bp_method, ...values }) {
  const { sbp, dbp, map_reported } = values;
  if (dbp !== undefined && sbp === undefined) return { words: _("Systolic first"), at: field("sbp") };
  if (bp_method === "cuff" && sbp !== undefined && (dbp ?? map_reported) === undefined) return { words: _("Diastolic, or palpated?"), at: field("dbp") };
  if (dbp !== undefined && dbp > sbp) return { words: _("Diastolic above systolic"), at: field("dbp") };
  if (["manual", "arterial"].includes(bp_method) && (sbp ?? map_reported) === undefined) return { words: _("Which pressure?"), at: field("sbp") };
  if (bp_method === "palpated" && sbp === undefined) return { words: _("Which systolic?"), at: field("sbp") };
  return bp_method === "unobtainable" || Object.keys(values).length ? "" : { words: _("Nothing typed yet"), at: field("sbp") };
}

/* `run`: the digits typed by the keys. */
export function startVitals(form, queue, run) {
  const [limits, measurements, bounds] = ["limits", "measurements", "bounds"].map((id) => JSON.parse(document.getElementById(id).textContent));
  const resting = document.getElementById("now-goal").textContent;
  const doubt = () => {
    const texts = unlikely(typed(form), bounds, measurements);
    return [run.question, texts.length ? _("Unusual: {values}. Is that right?", { values: texts.join(", ") }) : ""].filter(Boolean).join(" ");
  };
  startOtherUnits(form);
  const able = (name, on) => { form.elements[name].disabled = !on; };
  const refresh = () => {
    const method = form.elements.bp_method.value;
    able("sbp", method !== "unobtainable");
    able("dbp", !["palpated", "unobtainable"].includes(method));
    able("map_reported", !["palpated", "unobtainable"].includes(method));
    const pulses = document.getElementById("pulses");
    pulses.hidden = pulses.disabled = method !== "unobtainable";
    const reading = settledReading(form, contentOf(form));
    const waiting = method !== "palpated" && reading.sbp !== undefined && reading.dbp === undefined && reading.map_reported === undefined;
    const seen = show(limits ? preview(reading, limits) : unjudged(reading), waiting, form.elements.sbp.value && form.elements.dbp.value);
    document.getElementById("now-goal").textContent = waiting ? resting : goalText(seen, resting);
    document.getElementById("to-send").textContent = [...vitalsNames(typed(form), measurements), takenText(form)].filter(Boolean).join(", ");
  };
  for (const kind of ["input", "change", "focusout", "reset"]) form.addEventListener(kind, () => setTimeout(refresh));
  refresh();
  return new EntryForm(form, queue, {
    doubt, complete: () => missing(typed(form)), says: (data) => receiptText(form, data, measurements),
    ready: () => [_("Send {values}", { values: vitalsText(typed(form), measurements) }), takenText(form)].filter(Boolean).join(", "), brief: () => briefText(count(typed(form), measurements)),
    amend: (data) => { withoutMethod(form, data).source = "manual"; },
  });
}
