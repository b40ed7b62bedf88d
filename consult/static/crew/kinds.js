/* What each kind of entry needs before it can go, and what the main button and the queue say about it. */

import { amountText } from "../core/amounts.js";
import { contentOf } from "./entry.js";
import { agoText } from "./when.js";

const filled = (form, ...names) => names.every((name) => (form.elements[name]?.value ?? "").trim());
const reason = (form) => filled(form, "reason") || filled(form, "reason_pick");
const picked = (form, name) => form.querySelector(`input[name="${name}"]:checked`)?.parentNode.textContent.trim() ?? "";
const words = (text) => String(text ?? "").replaceAll("_", " ");

function patientMissing(form) {
  const age = form.elements.age_unknown?.checked || filled(form, "patient.age.value", "patient.age.unit");
  const weight = form.elements.weight_unknown?.checked || filled(form, "patient.weight.value", "patient.weight.basis");
  if (!age) return filled(form, "patient.age.value") ? "Age in years, months or days?" : "Age and weight first";
  return weight ? "" : filled(form, "patient.weight.value") ? "Weight known how?" : "Weight, or that it is unknown";
}

const weightText = ({ value, basis }) => `${value} kg ${["length", "age"].includes(basis) ? `by ${basis}` : basis}`;

function personText({ patient }) {
  const age = patient.age ? `${patient.age.value} ${patient.age.unit}` : "adult, age unknown";
  return `${age}${patient.sex ? ` ${patient.sex}` : ""}, ${patient.weight ? weightText(patient.weight) : "weight unknown"}`;
}

function readbackMissing(form) {
  const way = form.elements.said.value;
  const needs = { volume: ["strength.value", "strength.unit", "volume.value"], rate: ["concentration.value", "concentration.unit", "rate.value"], amount: ["amount.value", "amount.unit"] };
  if (!filled(form, "treatment")) return "Which drug?";
  if (form.elements.treatment.value === "other" && !filled(form, "name")) return "The drug’s name, in full";
  if (!filled(form, "route")) return "Which route?";
  if (!way) return "Strength and volume, pump rate, or dose?";
  return filled(form, ...needs[way]) ? "" : "Enter what the label or pump says";
}

function changeMissing(form) {
  const what = form.elements.status.value;
  if (!what) return "Say what happened";
  if (what === "rate" && !filled(form, "amount.value", "amount.unit")) return "Which rate?";
  return what === "rate" && !(contentOf(form).amount.value > 0) ? "More than 0, or stopped" : "";
}

function containerMissing(form) {
  if (form.elements.form.value === "cylinder") {
    return filled(form, "cylinder.pressure.value", "cylinder.pressure.unit") && (filled(form, "cylinder.size") || filled(form, "cylinder.factor.value")) ? "" : true;
  }
  if (!filled(form, "strength") || !filled(form, "volume.value")) return true;
  if (!filled(form, "form")) return "Syringe or bag?";
  return filled(form, "checked_by") && same(form.elements.checked_by.value, form.elements.mixed_by.value) ? "Checked by another person, or leave it empty" : "";
}

function containerText(data) {
  if (data.cylinder) return `${data.cylinder.size ?? amountText(data.cylinder.factor)} cylinder, ${amountText(data.cylinder.pressure)}`;
  return `${amountText(data.volume)} ${data.form} of ${amountText(data.strength).replace("/mL", " per mL")}`;
}

/* A second check is another person's. */
const same = (one, other) => one.replace(/\s/g, "").toLowerCase() === other.replace(/\s/g, "").toLowerCase();

/* How much of a drug that the rules lack: in words, or as an amount that can be read back. */
const otherAmount = (data) => data.amount_text ?? amountText(data.amount);

function otherText(form) {
  return `${otherAmount(contentOf(form))} ${form.elements.name.value.trim()} ${picked(form, "route")}`;
}

function otherMissing(form) {
  const amount = form.elements.amount_text ? filled(form, "amount_text") : filled(form, "amount.value", "amount.unit");
  return !(amount && filled(form, "name", "route"));
}

export const KINDS = {
  case: { complete: patientMissing, says: (data) => `Case opened: ${personText(data)}`, ready: () => "Open the case" },
  patch: {
    complete: (form) => (filled(form, "patient.weight.value") ? (filled(form, "patient.weight.basis") ? "" : "Weight known how?")
      : filled(form, "impression") || filled(form, "destination") || filled(form, "eta_in") ? "" : true),
    says: (data) => `Changed: ${[data.patient?.weight && `weight ${weightText(data.patient.weight)}`, data.impression, data.destination, data.eta && "arrival"].filter(Boolean).join(", ")}`,
  },
  note: { complete: (form) => !filled(form, "text"), says: (data) => `Note: ${data.text.slice(0, 60)}` },
  procedure: { complete: (form) => !filled(form, "procedure", "outcome"), says: (data, form) => `${[picked(form, "procedure"), data.gauge && `${data.gauge} G`, data.site].filter(Boolean).join(" ")}, ${data.outcome}` },
  container: {
    complete: containerMissing,
    ready: (form) => [`${form.dataset.done}: ${containerText(contentOf(form))}`, form.dataset.title].filter(Boolean).join(", "),
    says: (data, form) => `${form.dataset.done}: ${containerText(data)}`,
  },
  discard: { complete: (form) => (filled(form, "reason") ? "" : "Choose why"), says: (data) => `Discarded: ${data.reason.toLowerCase()}` },
  correction: { complete: (form) => !(filled(form, "target") && reason(form)), says: (data) => `Entered in error: ${words(data.target.kind)}` },
  not_given: { complete: (form) => !reason(form), says: () => "Order not given" },
  withdraw: { complete: (form) => (reason(form) ? "" : "Choose a reason"), says: () => "Request withdrawn" },
  handover: { complete: (form) => !filled(form, "to"), says: (data) => `Handed over to ${data.to}` },
  close: { complete: (form) => (filled(form, "outcome") ? "" : "Choose why"), says: (data) => `Case closed: ${words(data.outcome)}` },
  readback: { complete: readbackMissing, ready: (form) => `Send the read-back: ${contentOf(form).name ?? picked(form, "treatment")}`, says: () => "Read-back", kept: "NOT MATCHED YET: do not give. " },
  change: { complete: changeMissing, says: (data) => (data.status ? words(data.status) : `New rate ${amountText(data.amount)}`) },
  other: { complete: otherMissing, ready: (form) => `${["Record as given", agoText(form)].filter(Boolean).join(" ")}: ${otherText(form)}`, says: (data) => `Given: ${data.name} ${otherAmount(data)}` },
  other_order: { complete: (form) => otherMissing(form) || (reason(form) ? "" : "Say the reason"), ready: (form) => `Request ${otherText(form)}`, says: (data) => `Order requested: ${data.name} ${otherAmount(data)}, ${data.route}` },
};
