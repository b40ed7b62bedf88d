/* What helps to fill in a field: number keys, a weight by age, a word where a drug is in the rules after all. */

import { _ } from "../core/words.js";
import { listedAs } from "../core/names.js";
import { Run, complete } from "./surplus.js";

const BOUNCE_MS = 100; // no thumb presses a key twice so soon; chosen, no source

/* The number keys: they type into the field that was last touched, so that gloves need no keyboard of the phone. After a
   complete number the next empty field follows by itself; whoever presses Next or Erase all the same is understood, and a
   key that bounces types nothing into it. A form that begins anew begins at its first field. Gives the run of digits. */
export function startKeys(root = document) {
  const keys = root.querySelector(".keys");
  const run = new Run();
  if (!keys) return run;
  const fields = () => [...root.querySelectorAll(".box input")].filter((field) => !field.disabled && field.offsetParent);
  const beside = (field, step) => fields()[fields().indexOf(field) + step];
  let active = null;
  let last = { key: "", at: 0 };
  let followed = false; // whether the field followed by itself, and nothing was pressed since
  const next = keys.querySelector('[data-key="next"]');
  const ofPoint = next && { key: ".", text: ".", label: _("Decimal point") };
  const ofNext = next && { key: "next", text: next.textContent, label: null };
  /* Where a decimal is meant the keys have a point, in the place of the step to the next field. */
  const showPoint = () => {
    if (!next) return;
    const { key, text, label } = active?.inputMode === "decimal" ? ofPoint : ofNext;
    if (next.dataset.key === key) return;
    next.dataset.key = key;
    next.textContent = text;
    next.ariaLabel = label;
    next.classList.toggle("key-word", key === "next");
  };
  const begin = (field) => {
    active = field;
    showPoint();
    active?.focus({ preventScroll: true });
    active?.closest(".box").scrollIntoView({ block: "nearest" }); // between what stands above and the keys
  };
  const follows = (field) => field?.inputMode === "none" && !field.value;
  /* A field with those that follow it while nothing stands in them. */
  const chain = (field) => {
    const after = fields().slice(fields().indexOf(field) + 1);
    const stop = after.findIndex((each) => !follows(each));
    return [field, ...(stop < 0 ? after : after.slice(0, stop))];
  };
  const type = (key) => {
    if (key === "erase" && followed) active = beside(active, -1);
    if (key !== "erase" && active.inputMode === "none") run.add(key, chain(active));
    active.value = key === "erase" ? active.value.slice(0, -1) : (active.value + key).slice(0, active.maxLength > 0 ? active.maxLength : undefined);
    active.dispatchEvent(new Event("input", { bubbles: true }));
    const whole = key !== "erase" && active.inputMode === "none" && complete(active.value, Number(active.dataset.most));
    const beyond = whole ? beside(active, 1) : null;
    followed = follows(beyond);
    if (followed) active = beyond;
  };
  root.addEventListener("focusin", (event) => {
    if (!event.target.matches(".box input")) return;
    active = event.target;
    showPoint();
  });
  root.addEventListener("pointerdown", ({ target }) => { if (!keys.contains(target)) followed = false; });
  root.addEventListener("reset", () => setTimeout(() => begin(fields()[0]))); // by then the form stands as it will be typed into
  keys.addEventListener("pointerdown", (event) => event.preventDefault()); // the field keeps its focus
  keys.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]")?.dataset.key;
    const bounced = followed && key === last.key && event.timeStamp - last.at < BOUNCE_MS;
    if (!key || bounced) return;
    last = { key, at: event.timeStamp };
    if (!active || !fields().includes(active)) active = fields()[0];
    if (!active) return;
    if (key !== "next") type(key);
    else if (followed) followed = false;
    else active = beside(active, 1) ?? fields()[0];
    begin(active);
  });
  const fit = ({ target }) => target.matches?.(".box input") && target.toggleAttribute("data-long", target.value.length > 3);
  root.addEventListener("input", fit);
  root.addEventListener("reset", () => setTimeout(() => { for (const target of fields()) fit({ target }); }));
  root.addEventListener("beforeinput", (event) => {
    if (event.target.matches(".box input") && event.data && /[^0-9.,]/.test(event.data)) event.preventDefault();
  });
  return run;
}

/* A drug that is entered as one outside the rules, though they have it: said while its name is typed, also without a link. */
export function startListed(form) {
  const place = form.querySelector("[data-listed]");
  if (!place) return;
  const show = () => {
    const found = listedAs(form.elements.name.value);
    place.hidden = !found;
    place.querySelector("b").textContent = found ? _("{found}: choose it there, so that its limits are checked.", { found: found.text }) : "";
    place.querySelector("nav").replaceChildren(...(found?.treatments ?? []).map(({ slug, title }) =>
      Object.assign(document.createElement("a"), { className: "quiet-big", textContent: title, href: place.dataset.listed.replace("TREATMENT", slug) })));
  };
  form.addEventListener("input", show);
  form.addEventListener("reset", () => setTimeout(show));
  show();
}

// ---- a child whom nobody has weighed: a weight by age, offered as a button, always as an estimate. What is offered at which
// age comes with the page, so that it is there without a link; the formulas stay on the server.

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

/* The age that is being typed, null where none is. */
export function typedAge(fields) {
  const typed = fields["patient.age.value"];
  if (!typed || typed.disabled || !typed.value.trim()) return null;
  return { value: Number(typed.value.replace(",", ".")), unit: fields["patient.age.unit"].value };
}

/* The age on record, or the one that is being typed. */
function ageOf(place, fields) {
  const { value, unit } = place.dataset;
  return value ? { value: Number(value), unit } : typedAge(fields);
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
    button.textContent = offer?.text ?? "";
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
