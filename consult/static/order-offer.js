// What a form offers: the routes and units that the rule set has for the treatment, no others.

const ROUTES = { IV: "IV", IO: "IO", IM: "IM", IN: "intranasal", SC: "subcut", PO: "by mouth" };

const offered = () => JSON.parse(document.getElementById("offered").textContent);

function fill(select, values, words = (value) => value) {
  const [first] = select.options;
  const options = values.filter((value) => value !== first.dataset.same).map((value) => new Option(words(value), value));
  const chosen = select.value;
  select.replaceChildren(first, ...options);
  select.value = values.includes(chosen) ? chosen : values.length === 1 && !first.dataset.same ? values[0] : "";
}

/** Offer in a form's lists what its treatment has; a treatment that the rule set lacks keeps what stands there. */
export function narrow(form) {
  const asked = JSON.parse(form.closest("[data-proposal]")?.dataset.proposal ?? "null");
  const choice = offered()[form.elements.treatment?.value ?? asked?.treatment];
  if (!choice) return;
  const { route } = form.elements;
  if (route.matches("[data-as-asked]")) route.options[0].dataset.same = asked?.route ?? "";
  fill(route, choice.routes, (value) => ROUTES[value] ?? value);
  fill(form.elements["amount.unit"], choice.units);
  if (form.elements["concentration.unit"]) fill(form.elements["concentration.unit"], choice.per_ml, (unit) => unit.replace("/mL", " per mL"));
}
