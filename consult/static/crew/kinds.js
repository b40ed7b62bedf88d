/* What each kind of entry needs before it can go, and what the main button and the queue say about it. */

import { amountText } from "../core/amounts.js";
import { listedAs } from "../core/names.js";
import { contentOf } from "./entry.js";
import { field, given, lacks } from "./missing.js";
import { changed, onlyChanged } from "./patient.js";
import { agoText } from "./when.js";

const lacksReason = (form, words = "Choose a reason") => (given(form, "reason") ? null : lacks(form, { reason_pick: words }));
const picked = (form, name) => form.querySelector(`input[name="${name}"]:checked`)?.parentNode.textContent.trim() ?? "";
const words = (text) => String(text ?? "").replaceAll("_", " ");

const AGE = { "patient.age.value": "Age and weight first", "patient.age.unit": "Age in years, months or days?" };
const BASIS = { "patient.weight.basis": "Basis of the weight?" };

function patientMissing(form) {
  const weight = { "patient.weight.value": "Weight, or that it is unknown", ...BASIS };
  return lacks(form, { ...(form.elements.age_unknown?.checked ? {} : AGE), ...(form.elements.weight_unknown?.checked ? {} : weight) });
}

const weightText = ({ value, basis }) => `${value} kg ${["length", "age"].includes(basis) ? `by ${basis}` : basis}`;

/** Whose case it is: age and sex, and the weight. */
export function whoOf(patient) {
  const age = patient.age ? `${patient.age.value} ${patient.age.unit}` : "adult, age unknown";
  const who = [age, patient.sex === "unknown" ? "" : patient.sex, patient.label].filter(Boolean).join(" ");
  return [who, patient.weight ? weightText(patient.weight) : "weight unknown"];
}

const JOURNEY = { "patient.weight.value": "weight", impression: "impression", destination: "destination", eta_in: "arrival" };
const patchNames = (form) => [...Object.keys(JOURNEY).filter((name) => given(form, name)).map((name) => JOURNEY[name]), ...changed(form).map(([, word]) => word)];

const READ_BACK = {
  volume: { "strength.value": "Which strength is on the label?", "volume.value": "Which volume?", "strength.unit": "Unit of the strength?" },
  rate: { "concentration.value": "Which strength is on the bag?", "rate.value": "Which pump rate?", "concentration.unit": "Unit of the strength?" },
  amount: { "amount.value": "Which dose or rate?", "amount.unit": "Unit of the dose?" },
};

export const STEPS = {
  "titrate.step.value": "Up by how much?", "titrate.every_min": "No sooner than every how many minutes?", "titrate.most.value": "At most which rate?",
  "titrate.unit": "Unit of the steps?", "titrate.goal.measure": "MAP or systolic?", "titrate.goal.floor": "Up to which pressure?",
};

function readbackMissing(form) {
  const name = form.elements.treatment.value === "other" ? { name: "The drug’s name, in full" } : {};
  const act = form.elements.action.value;
  const drug = { treatment: "Which drug?", ...name };
  if (["hold", "stop"].includes(act)) return lacks(form, drug);
  const asked = { ...drug, ...(act ? {} : { route: "Which route?" }), said: "Strength and volume, pump rate, or dose?" };
  return lacks(form, { ...asked, ...READ_BACK[form.elements.said.value], ...(form.elements.stepped.value ? STEPS : {}) });
}

/* A request about what runs: another rate, perhaps with steps, a pause, its end. */
function aboutMissing(form) {
  const rate = form.elements.action.value === "change" ? { "amount.value": "Which rate?", "amount.unit": "Unit of the rate?", ...(form.elements.stepped.value ? STEPS : {}) } : {};
  return lacks(form, { action: "Say what you ask for", ...rate }) ?? lacksReason(form, "Say the reason");
}

function aboutText(form) {
  const { amount } = contentOf(form);
  return `${picked(form, "action")}${amount ? ` ${amountText(amount)}` : ""}`.toLowerCase().replace("ml/", "mL/");
}

function changeMissing(form) {
  const what = form.elements.status.value;
  const rate = what === "rate" ? { "amount.value": "Which rate?", "amount.unit": "Unit of the rate?" } : {};
  const lacking = lacks(form, { status: "Say what happened", ...rate });
  return lacking ?? (what === "rate" && !(contentOf(form).amount.value > 0) ? { words: "More than 0, or stopped", at: field("amount.value") } : null);
}

function containerMissing(form) {
  if (form.elements.form.value === "cylinder") {
    const size = given(form, "cylinder.factor.value") ? {} : { "cylinder.size": "Size and gauge first" };
    return lacks(form, { ...size, "cylinder.pressure.value": "What does the gauge say?", "cylinder.pressure.unit": "Unit of the gauge?" });
  }
  const lacking = lacks(form, { strength: "Strength and volume first", "volume.value": "Which volume?", form: "Syringe or bag?" });
  const alike = given(form, "checked_by") && same(form.elements.checked_by.value, form.elements.mixed_by.value);
  return lacking ?? (alike ? { words: "Checked by another person, or leave it empty", at: field("checked_by") } : null);
}

function containerText(data) {
  if (data.cylinder) return `${data.cylinder.size ?? amountText(data.cylinder.factor)} cylinder, ${amountText(data.cylinder.pressure)}`;
  return `${amountText(data.volume)} ${data.form} of ${amountText(data.strength)}`;
}

/* A second check is another person's. */
const same = (one, other) => one.replace(/\s/g, "").toLowerCase() === other.replace(/\s/g, "").toLowerCase();

/* How much of a drug that the rules lack: in words, or as an amount that can be read back. */
const otherAmount = (data) => [data.amount && amountText(data.amount), data.amount_text].filter(Boolean).join(", ");

function otherText(form) {
  return `${otherAmount(contentOf(form))} ${form.elements.name.value.trim()} ${picked(form, "route")}`;
}

function otherMissing(form) {
  const unit = { "amount.unit": "Unit of the dose?" };
  const amount = given(form, "amount.value") ? unit : given(form, "amount_text") ? {} : { "amount.value": "Which dose?", ...unit };
  return lacks(form, { name: "Which drug?", ...amount, route: "Which route?" });
}

/* What is asked for of a drug that the rules have goes through its own form: there its limits are checked. */
function otherOrderMissing(form) {
  const known = listedAs(form.elements.name.value) ? { words: "In the rules: choose it above", at: field("name") } : null;
  return known ?? otherMissing(form) ?? lacksReason(form, "Say the reason");
}

/* What a pacemaker or defibrillator was set to. */
const settingsText = (set) => set && [set.rate && `${set.rate} a minute`, set.output_ma !== undefined && `${set.output_ma} mA`, set.joules && `${set.joules} J`,
  set.synchronized !== undefined && (set.synchronized ? "synchronized" : "not synchronized")].filter(Boolean).join(", ");

const CHANGED = { finished: "Finished", stopped: "Stopped", held: "Held", running: "Runs again" };
const FORMS = {
  refusal: { "form.who_refuses": "Who refuses?", "form.capacity": "Capacity to decide?", "form.risks_told": "Were the risks told?" },
  end_resuscitation: { "form.minutes": "For how many minutes?", "form.rhythm": "Which rhythm?" },
};
const questionMissing = (form) => lacks(form, { topic: "What is it about?", ...FORMS[form.elements.topic.value], text: "Put it in words" });

export const KINDS = {
  case: { complete: patientMissing, says: (data) => `Case opened: ${whoOf(data.patient).join(", ")}`, ready: () => "Open the case" },
  patch: {
    complete: (form) => (given(form, "patient.weight.value") || !patchNames(form).length ? lacks(form, { "patient.weight.value": "Nothing changed yet", ...BASIS }) : null),
    ready: (form) => `Send: ${patchNames(form).join(", ")}`,
    says: (data, form) => `Changed: ${[data.patient?.weight && `weight ${weightText(data.patient.weight)}`, ...patchNames(form).filter((name) => name !== "weight")].filter(Boolean).join(", ")}`,
    amend: (data, _, form) => onlyChanged(form, data),
  },
  note: { complete: (form) => lacks(form, { text: "Nothing written yet" }), says: (data) => `Note: ${data.text.slice(0, 60)}` },
  phase: { complete: (form) => lacks(form, { phase: "Arrest, or a pulse?" }), ready: (form) => `Record: ${picked(form, "phase").toLowerCase()}`, says: (data, form) => picked(form, "phase") },
  coverage: {
    complete: (form) => lacks(form, { until: "For how long?" }),
    ready: (form) => `No coverage for ${picked(form, "until")}`,
    says: (data, form) => `No coverage for ${picked(form, "until")}`,
  },
  procedure: { complete: (form) => lacks(form, { procedure: "Choose what was done", outcome: "Say how it went" }), says: (data, form) => `${[picked(form, "procedure"), data.gauge && `${data.gauge} G`, data.site, settingsText(data.settings)].filter(Boolean).join(" ")}, ${data.outcome}` },
  container: {
    complete: containerMissing,
    ready: (form) => [`${form.dataset.done}: ${containerText(contentOf(form))}`, form.dataset.title].filter(Boolean).join(", "),
    says: (data, form) => `${form.dataset.done}: ${containerText(data)}`,
  },
  question: {
    complete: questionMissing,
    ready: (form) => `Ask: ${picked(form, "topic").toLowerCase()}`,
    says: (data, form) => `Asked: ${picked(form, "topic").toLowerCase()}`,
    amend: (data) => { if (data.topic === "end_resuscitation") data.form.criteria ??= []; }, // none that is met is an answer, too
  },
  withdraw_question: { complete: (form) => lacksReason(form), says: () => "Question withdrawn" },
  understood: { says: () => "Instruction understood" },
  done: { says: () => "Instruction done" },
  unable: { complete: (form) => lacksReason(form), says: () => "Instruction not possible" },
  discard: { complete: (form) => lacks(form, { reason: "Choose why" }), says: (data) => `Discarded: ${data.reason.toLowerCase()}` },
  correction: { complete: (form) => lacks(form, { target: "Choose an entry and a reason" }) ?? lacksReason(form), says: (data) => `Entered in error: ${words(data.target.kind)}` },
  not_given: { complete: (form) => lacksReason(form), says: () => "Order not given" },
  answer: { complete: (form) => lacks(form, { text: "Nothing written yet" }), says: (data) => `Answer: ${data.text.slice(0, 60)}` },
  withdraw: { complete: (form) => lacksReason(form), says: () => "Request withdrawn" },
  move: { complete: (form) => lacks(form, { unit: "To which unit?" }), ready: (form) => `Move the patient to ${picked(form, "unit")}`, says: (data, form) => `Moved to ${picked(form, "unit")}` },
  handover: { complete: (form) => lacks(form, { to: "Who takes over?" }), says: (data) => `Handed over to ${data.to}` },
  close: { complete: (form) => lacks(form, { outcome: "Choose why" }), says: (data) => `Case closed: ${words(data.outcome)}` },
  readback: { complete: readbackMissing, ready: (form) => `Send the read-back: ${form.elements.action.value} ${contentOf(form).name ?? picked(form, "treatment")}`.replace(":  ", ": "), says: () => "Read-back", kept: "NOT MATCHED YET: do not give. " },
  about: { complete: aboutMissing, ready: (form) => `Request: ${aboutText(form)}`, says: (_, form) => `Order requested: ${aboutText(form)}` },
  change: { complete: changeMissing, says: (data) => (data.status ? CHANGED[data.status] : `New rate ${amountText(data.amount)}`) },
  other: { complete: otherMissing, ready: (form) => `${["Record as given", agoText(form)].filter(Boolean).join(" ")}: ${otherText(form)}`, says: (data) => `Given: ${data.name} ${otherAmount(data)}` },
  other_order: { complete: otherOrderMissing, ready: (form) => `Request ${otherText(form)}`, says: (data) => `Order requested: ${data.name} ${otherAmount(data)}, ${data.route}` },
};
