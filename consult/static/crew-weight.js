/* A child whom nobody has weighed: a weight by age, offered as a button, always as an estimate. What is offered at which
   age comes with the page, so that it is there without a link; the formulas stay on the server. */

const MONTHS = {
  years: (age) => Math.floor(age * 12),
  months: (age) => Math.floor(age),
  days: (age) => Math.floor((Math.floor(age) * 12) / 365),
};

/* What is offered at an age, of `steps` [{from_months, under_months, kg, text, source}]; null outside their ages. */
export function offerAt(steps, age, unit) {
  const months = MONTHS[unit]?.(age);
  return steps.find((step) => step.from_months <= months && months < step.under_months) ?? null;
}

function typedAge(fields) {
  const typed = fields["patient.age.value"];
  if (!typed || typed.disabled || !typed.value.trim()) return null;
  return { value: Number(typed.value.replace(",", ".")), unit: fields["patient.age.unit"].value };
}

/* The age on record, or the one that is being typed. */
function ageOf(place, fields) {
  const { age, unit } = place.dataset;
  return age ? { value: Number(age), unit } : typedAge(fields);
}

export function startWeight(form) {
  const place = form.querySelector("[data-by-age]");
  if (!place) return;
  const steps = JSON.parse(document.getElementById("weight-steps").textContent);
  const [button, source] = [place.querySelector("button"), place.querySelector("p")];
  const fields = form.elements;
  const weight = fields["patient.weight.value"];
  let offer = null;

  const show = () => {
    const age = ageOf(place, fields);
    offer = age && !weight.value.trim() ? offerAt(steps, age.value, age.unit) : null;
    place.hidden = !offer;
    button.textContent = offer ? offer.text.replace("by age", "By age") : "";
    source.textContent = offer?.source ?? "";
  };
  button.addEventListener("click", () => {
    const { kg } = offer;
    if (fields.weight_unknown) fields.weight_unknown.checked = false;
    weight.disabled = false;
    weight.value = String(kg);
    fields["patient.weight.basis"].value = "age";
    weight.dispatchEvent(new Event("input", { bubbles: true }));
    weight.focus();
  });
  for (const kind of ["input", "change"]) form.addEventListener(kind, show);
  form.addEventListener("reset", () => setTimeout(show));
  show();
}
