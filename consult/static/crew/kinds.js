/* What each kind of entry needs before it can go, and what the main button and the queue say about it. */

import { _, words } from "../core/words.js";
import { amountText } from "../core/amounts.js";
import { listedAs } from "../core/names.js";
import { contentOf } from "./entry.js";
import { field, given, lacks } from "./missing.js";
import { changed, onlyChanged, weightText } from "./patient.js";
import { agoText } from "./when.js";

/* The beginning of a longer text, cut between words. */
const brief = (text) => (text.length > 60 ? `${text.slice(0, 60).replace(/\s+\S*$/, "")} …` : text);
export const lacksReason = (form, words = _("Choose a reason")) => (given(form, "reason") ? null : lacks(form, { reason_pick: words }));
const picked = (form, name) => form.querySelector(`input[name="${name}"]:checked`)?.parentNode.textContent.trim() ?? "";
const pickedLine = (form, name) => form.querySelector(`input[name="${name}"]:checked + span`)?.textContent.trim() ?? "";

const AGE = { "patient.age.value": _("Age and weight first"), "patient.age.unit": _("Age in years, months or days?") };
const BASIS = { "patient.weight.basis": _("Basis of the weight?") };

function patientMissing(form) {
  const weight = { "patient.weight.value": _("Weight, or that it is unknown"), ...BASIS };
  return lacks(form, { ...(form.elements.age_unknown?.checked ? {} : AGE), ...(form.elements.weight_unknown?.checked ? {} : weight) }) ?? pregnantMissing(form);
}

/** Whose case it is: age and sex, and the weight. */
export function whoOf(patient) {
  const age = patient.age ? `${patient.age.value} ${patient.age.unit}` : _("adult, age unknown");
  const who = [age, patient.sex === "unknown" ? "" : patient.sex, patient.label].filter(Boolean).join(" ");
  return [who, patient.weight ? weightText(patient.weight) : _("weight unknown")];
}

const JOURNEY = { "patient.weight.value": "weight", impression: "impression", destination: "destination", eta_in: "arrival" };
const patchNames = (form) => [...new Set([...Object.keys(JOURNEY).filter((name) => given(form, name)).map((name) => JOURNEY[name]), ...changed(form).map(([, word]) => word)])];
/* What was changed, the new weight with its number. */
const patchText = ({ patient }, form) => patchNames(form).map((name) => (name === "weight" ? _("weight {weight}", { weight: weightText(patient.weight) }) : name)).join(", ");
const pregnantMissing = (form) => {
  const isAsked = form.elements.pregnant?.value === "yes" && !form.querySelector('[data-for="yes"]').closest("[data-not-for][hidden]");
  return isAsked && !contentOf(form).patient?.pregnancy_weeks ? { words: _("Pregnant, in which week?"), at: '[data-for="yes"] input' } : null;
};

const READ_BACK = {
  volume: { "strength.value": _("Which strength is on the label?"), "volume.value": _("Which volume?"), "strength.unit": _("Unit of the strength?") },
  rate: { "concentration.value": _("Which strength is on the bag?"), "rate.value": _("Which pump rate?"), "concentration.unit": _("Unit of the strength?") },
  amount: { "amount.value": _("Which dose or rate?"), "amount.unit": _("Unit of the dose?") },
};

export const STEPS = {
  "titrate.step.value": _("Up by how much?"), "titrate.every_min": _("At least how many minutes apart?"), "titrate.unit": _("Unit of the steps?"),
  "titrate.goal.measure": _("MAP or systolic?"), "titrate.goal.floor": _("Up to which pressure?"), "titrate.most.value": _("At most which rate?"),
};

/* The steps that are asked for, as the button and what was sent name them; "" without. */
export const stepsText = (titrate) => (titrate?.step?.value && titrate.most?.value
  ? _(", up by {step} to at most {most}", { step: amountText(titrate.step), most: amountText(titrate.most) }) : "");

function readbackMissing(form) {
  const name = form.elements.treatment.value === "other" ? { name: _("The drug’s name, in full") } : {};
  const act = form.elements.action.value;
  const drug = { treatment: _("Which drug?"), ...name };
  const words = form.elements.words_too ? { words_too: _("Read the physician’s words back, too") } : {};
  if (["hold", "stop"].includes(act)) return lacks(form, { ...drug, ...words });
  const asked = { ...drug, ...(act ? {} : { route: _("Which route?") }), said: _("Strength and volume, pump rate, or dose?") };
  return lacks(form, { ...asked, ...READ_BACK[form.elements.said.value], ...(form.elements.stepped.value ? STEPS : {}), ...words });
}

/* A request about what runs: another rate, perhaps with steps, a pause, its end. */
function aboutMissing(form) {
  const rate = form.elements.action.value === "change" ? { "amount.value": _("Which rate?"), "amount.unit": _("Unit of the rate?"), ...(form.elements.stepped.value ? STEPS : {}) } : {};
  return lacks(form, { action: _("Choose what you request"), ...rate }) ?? lacksReason(form, _("Give the reason"));
}

function aboutText(form) {
  const { amount, titrate } = contentOf(form);
  return `${picked(form, "action")}${amount ? ` ${amountText(amount)}` : ""}${stepsText(titrate)}`.toLowerCase().replaceAll("ml/", "mL/");
}

/* How much went in, as the button and what was sent say it; "" where nobody told. */
export const infusedText = ({ infused }) => (infused ? _(", {amount} went in", { amount: amountText(infused) }) : "");

function changeMissing(form) {
  const what = form.elements.status.value;
  const rate = what === "rate" ? { "amount.value": _("Which rate?"), "amount.unit": _("Unit of the rate?"), ...(form.elements.concentration ? { concentration: _("From the bag of which strength?") } : {}) } : {};
  const unsaid = what === "stopped" && form.elements.infused_unknown && !given(form, "infused_unknown");
  const lacking = lacks(form, { status: _("Choose what happened"), ...rate, ...(unsaid ? { "infused.value": _("How much went in, or not known?") } : {}) });
  return lacking ?? (what === "rate" && !(contentOf(form).amount.value > 0) ? { words: _("More than 0, or stopped"), at: field("amount.value") } : null);
}

function containerMissing(form) {
  if (form.elements.form.value === "cylinder") {
    const size = given(form, "cylinder.factor.value") ? {} : { "cylinder.size": _("Size and gauge first") };
    return lacks(form, { ...size, "cylinder.pressure.value": _("What does the gauge say?"), "cylinder.pressure.unit": _("Unit of the gauge?") });
  }
  const lacking = lacks(form, { strength: _("Strength and volume first"), "volume.value": _("Which volume?"), form: _("Syringe or bag?") });
  const alike = given(form, "checked_by") && same(form.elements.checked_by.value, form.elements.mixed_by.value);
  return lacking ?? (alike ? { words: _("Checked by another person, or leave it empty"), at: field("checked_by") } : null);
}

function containerText(data) {
  if (data.cylinder) return _("{size} cylinder, {pressure}", { size: data.cylinder.size ?? amountText(data.cylinder.factor), pressure: amountText(data.cylinder.pressure) });
  return _("{volume} {form} of {strength}", { volume: amountText(data.volume), form: data.form, strength: amountText(data.strength) });
}

/* A second check is another person's. */
const same = (one, other) => one.replace(/\s/g, "").toLowerCase() === other.replace(/\s/g, "").toLowerCase();

/* How much of a drug that the rules lack: in words, or as an amount that can be read back. */
const otherAmount = (data) => [data.amount && amountText(data.amount), data.amount_text].filter(Boolean).join(", ");

function otherText(form) {
  return `${otherAmount(contentOf(form))} ${form.elements.name.value.trim()} ${picked(form, "route")}`;
}

function otherMissing(form) {
  const unit = { "amount.unit": _("Unit of the dose?") };
  const amount = given(form, "amount.value") ? unit : given(form, "amount_text") ? {} : { "amount.value": _("Which dose?"), ...unit };
  return lacks(form, { name: _("Which drug?"), ...amount, route: _("Which route?") });
}

/* What is asked for of a drug that the rules have goes through its own form: there its limits are checked. */
function otherOrderMissing(form) {
  const known = listedAs(form.elements.name.value) ? { words: _("In the rules: choose it above"), at: field("name") } : null;
  return known ?? otherMissing(form) ?? lacksReason(form, _("Give the reason"));
}

/* What a pacemaker or defibrillator was set to. */
const settingsText = (set) => set && [set.rate && _("{rate} a minute", { rate: set.rate }), set.output_ma !== undefined && `${set.output_ma} mA`, set.joules && `${set.joules} J`,
  set.synchronized !== undefined && (set.synchronized ? "synchronized" : _("not synchronized"))].filter(Boolean).join(", ");

const isAirway = (form) => form.elements.procedure.value === "airway";

const CHANGED = { finished: _("Finished"), stopped: _("Stopped"), held: _("Held"), running: _("Runs again") };
const FORMS = {
  refusal: { "form.who_refuses": _("Who refuses?"), "form.capacity": _("Capacity to decide?"), "form.risks_told": _("Were the risks explained?") },
  end_resuscitation: { "form.minutes": _("For how many minutes?"), "form.rhythm": _("Which rhythm?") },
};
const questionMissing = (form) => lacks(form, { topic: _("What is it about?"), ...FORMS[form.elements.topic.value], text: _("Put it in words") });

export const KINDS = {
  case: { complete: patientMissing, says: (data) => _("Case opened: {patient}", { patient: whoOf(data.patient).join(", ") }), ready: () => _("Open the case") },
  patch: {
    complete: (form) => (given(form, "patient.weight.value") || !patchNames(form).length ? lacks(form, { "patient.weight.value": _("Nothing changed yet"), ...BASIS }) : null) ?? pregnantMissing(form),
    ready: (form) => _("Send: {changes}", { changes: patchText(contentOf(form), form) }),
    says: (data, form) => _("Changed: {changes}", { changes: patchText(data, form) }),
    amend: (data, _, form) => onlyChanged(form, data),
  },
  note: { complete: (form) => lacks(form, { text: _("Nothing written yet") }), says: (data) => _("Note: {text}", { text: brief(data.text) }) },
  phase: { complete: (form) => lacks(form, { phase: _("Arrest, or a pulse?") }), ready: (form) => _("Record: {phase}", { phase: picked(form, "phase").toLowerCase() }), says: (data, form) => picked(form, "phase") },
  coverage: {
    complete: (form) => lacks(form, { until: _("For how long?") }),
    ready: (form) => _("No coverage for {time}", { time: picked(form, "until") }),
    says: (data, form) => _("No coverage for {time}", { time: picked(form, "until") }),
  },
  procedure: {
    complete: (form) => lacks(form, { procedure: _("Choose what was done"), ...(isAirway(form) && { airway: _("Which airway?") }), outcome: _("Choose how it went") }),
    says: (data, form) => `${[picked(form, "procedure"), data.gauge && `${data.gauge} G`, data.site, settingsText(data.settings)].filter(Boolean).join(" ")}, ${data.outcome}`,
    amend: (data, _, form) => { if (isAirway(form)) data.site = [form.elements.airway.value, data.site].filter(Boolean).join(", "); },
  },
  container: {
    complete: containerMissing,
    ready: (form) => [`${form.dataset.done}: ${containerText(contentOf(form))}`, form.dataset.title].filter(Boolean).join(", "),
    says: (data, form) => `${form.dataset.done}: ${containerText(data)}`,
  },
  question: {
    complete: questionMissing,
    ready: (form) => _("Ask: {topic}", { topic: picked(form, "topic").toLowerCase() }),
    says: (data, form) => _("Asked: {topic}", { topic: picked(form, "topic").toLowerCase() }),
    amend: (data) => { if (data.topic === "end_resuscitation") data.form.criteria ??= []; }, // none that is met is an answer, too
  },
  withdraw_question: { complete: (form) => lacksReason(form), says: () => _("Question withdrawn") },
  understood: { says: () => _("Instruction understood") },
  done: { says: () => _("Instruction done") },
  unable: { complete: (form) => lacksReason(form), says: () => _("Instruction not possible") },
  discard: { complete: (form) => lacks(form, { reason: _("Choose why") }), says: (data) => _("Discarded: {reason}", { reason: data.reason.toLowerCase() }) },
  correction: { complete: (form) => lacks(form, { target: _("Choose an entry and a reason") }) ?? lacksReason(form), says: (data, form) => _("Entered in error: {entry}", { entry: brief(pickedLine(form, "target") || words(data.target.kind)) }) },
  not_given: { complete: (form) => lacksReason(form), says: () => _("Order not given") },
  answer: { complete: (form) => lacks(form, { text: _("Nothing written yet") }), says: (data) => _("Answer: {text}", { text: brief(data.text) }) },
  withdraw: { complete: (form) => lacksReason(form), says: () => _("Request withdrawn") },
  move: { complete: (form) => lacks(form, { unit: _("To which unit?") }), ready: (form) => _("Move the patient to {unit}", { unit: picked(form, "unit") }), sure: (form) => _("Press again: {unit} takes this patient", { unit: picked(form, "unit") }), says: (data, form) => _("Moved to {unit}", { unit: picked(form, "unit") }) },
  handover: { complete: (form) => lacks(form, { to: _("Who takes over?") }), sure: () => _("Press again: handed over, the case ends"), says: (data) => _("Handed over to {to}", { to: data.to }) },
  close: { complete: (form) => lacks(form, { outcome: _("Choose why") }), sure: () => _("Press again: the case is closed"), says: (data) => _("Case closed: {outcome}", { outcome: words(data.outcome) }) },
  readback: { complete: readbackMissing, ready: (form) => _("Send the read-back: {action} {drug}", { action: form.elements.action.value, drug: contentOf(form).name ?? picked(form, "treatment") }).replace(":  ", ": "), says: () => "Read-back", kept: _("NOT MATCHED YET: do not give or change it. ") },
  about: { complete: aboutMissing, ready: (form) => _("Request: {change}", { change: aboutText(form) }), says: (_data, form) => _("Order requested: {order}", { order: aboutText(form) }) },
  change: { complete: changeMissing, says: (data) => (data.status ? `${CHANGED[data.status]}${infusedText(data)}` : _("New rate {rate}", { rate: [data.amount, data.concentration].filter(Boolean).map(amountText).join(_(" of ")) })) },
  other: { complete: otherMissing, ready: (form) => `${[_("Record as given"), agoText(form)].filter(Boolean).join(" ")}: ${otherText(form)}`, says: (data) => _("Given: {drug} {dose}", { drug: data.name, dose: otherAmount(data) }) },
  other_order: { complete: otherOrderMissing, ready: (form) => _("Request {order}", { order: otherText(form) }), says: (data) => _("Order requested: {drug} {dose}, {route}", { drug: data.name, dose: otherAmount(data), route: data.route }) },
};
