/* What is on record of a patient stands in its fields; only what was changed there is sent, also that nothing is left of it. */

import { _ } from "../core/words.js";
import { collect } from "../core/form.js";

const ON_RECORD = {
  "patient.sex": "sex", "patient.injuries": "injuries", "patient.bleeding_cause": "bleeding", "patient.bleeding_controlled": _("bleeding controlled"), pregnant: "pregnancy", "patient.pregnancy_weeks": "pregnancy",
  "patient.history": "history", "patient.fluid_restricted": _("fluid restricted"), "patient.allergies": "allergies", "patient.care_limits": _("code status"), "patient.refuses_blood": _("blood refused"),
};
const NOTHING = { "patient.injuries": [], "patient.history": [], "patient.allergies": [], "patient.bleeding_controlled": false, "patient.fluid_restricted": false, "patient.refuses_blood": false };

const isChanged = ({ type, checked, defaultChecked, value, defaultValue }) =>
  (["radio", "checkbox"].includes(type) ? checked !== defaultChecked : value.trim() !== defaultValue);

/** A weight with how it is known, as the server says it. */
export const weightText = ({ value, basis }) => `${value} kg ${["length", "age"].includes(basis) ? _("by {basis}", { basis }) : basis}`;

/** The names of what was changed on record, each with its word. */
export const changed = (form) => Object.entries(ON_RECORD).filter(([name]) => [...form.elements].some((each) => each.name === name && isChanged(each)));

/** Leave of an entry about the patient what was changed. */
export function onlyChanged(form, data) {
  const typed = collect(form).patient ?? {};
  const part = data.patient?.weight ? { weight: data.patient.weight } : {};
  for (const [name] of changed(form)) {
    const key = name === "pregnant" ? "pregnancy_weeks" : name.replace("patient.", "");
    part[key] = typed[key] ?? NOTHING[name] ?? null;
  }
  if (Object.keys(part).length) data.patient = part;
  else delete data.patient;
}
