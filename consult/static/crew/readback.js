/* Reading an order back: from the label in hand, not from the screen. What was read back is what may be started next. */

import { _ } from "../core/words.js";
import { amountText } from "../core/amounts.js";
import { amountOf } from "../core/form.js";

const STRENGTH = { rate: "concentration", volume: "strength" }; // the field for the label's strength, by what is said
const NEXT = { rate: "rate.value", volume: "volume.value", amount: "amount.value" };
const OF_A_LABEL = ["treatment", "said", "strength.value", "strength.unit", "concentration.value", "concentration.unit"];

/* The keys stand only where there is a field for them; a group of drugs closes over the one that was chosen. */
function tidy(form) {
  const keys = document.querySelector(".dock .keys");
  const show = () => {
    keys.hidden = ![...form.querySelectorAll(".box input")].some((field) => field.offsetParent);
    for (const group of form.querySelectorAll("#drugs details")) {
      const chosen = group.querySelector("input:checked");
      const summary = group.querySelector("summary");
      summary.dataset.name ??= summary.textContent;
      summary.textContent = chosen ? `${summary.dataset.name}: ${chosen.parentElement.textContent.trim()}` : summary.dataset.name;
    }
  };
  form.addEventListener("change", (event) => {
    setTimeout(show);
    if (event.target.name === "treatment") event.target.closest("details").open = false;
  });
  form.addEventListener("reset", () => setTimeout(show));
  show();
}

/* A drug says how it is read back: an infusion by its pump rate. */
function say(form, { dataset }) {
  if (!form.elements.said.value) form.elements.said.value = dataset.said ?? "";
}

/* The label in hand tells drug and strength at once; what is typed next is the volume or the rate. */
function choose(form, label) {
  const drug = form.querySelector(`[name=treatment][value="${label.dataset.treatment}"]`);
  drug.checked = true;
  form.elements.said.value = drug.dataset.said;
  const place = STRENGTH[drug.dataset.said];
  const { value, unit } = amountOf(label.dataset.strength);
  if (place && unit) {
    form.elements[`${place}.value`].value = value;
    form.elements[`${place}.unit`].value = unit;
  }
  setTimeout(() => form.elements[NEXT[drug.dataset.said]].focus({ preventScroll: true })); // once it is in sight
}

/* Whoever names another drug or strength has another label in hand. */
function startLabels(form) {
  const unchoose = () => { for (const each of form.querySelectorAll("[name=label]")) each.checked = false; };
  form.addEventListener("change", ({ target }) => {
    if (target.name === "label") choose(form, target);
    if (OF_A_LABEL.includes(target.name)) unchoose();
    if (target.name === "treatment") say(form, target);
  }, true);
  form.addEventListener("input", ({ target }) => { if (OF_A_LABEL.includes(target.name)) unchoose(); });
}

const FIELDS = {
  action: _("what to do"), treatment: "drug", name: _("name of the drug"), amount: _("dose, strength or rate"), titrate: _("whether it has steps"),
  "titrate.step": _("step size"), "titrate.every_min": _("minutes between steps"), "titrate.most": _("maximum rate"), "titrate.goal": _("pressure goal"), "titrate.call_at": _("rate to call at"),
};
const ALSO = { treatment: ["label"], amount: ["label", "strength", "volume.value", "concentration", "rate.value"], "titrate.step": ["titrate.unit"], titrate: ["stepped"] };

/* What differed is read anew, from nothing; what was typed besides stays. */
function emptyFields(form, differences) {
  const names = differences.flatMap((name) => [name, ...(ALSO[name] ?? [])]);
  for (const field of form.elements) {
    if (field.type === "hidden" || !names.some((name) => field.name === name || field.name?.startsWith(`${name}.`))) continue;
    if (field.type === "radio") field.checked = field.defaultChecked;
    else field.value = "";
  }
}

/* What comes next is what was read back, and named by it: "Open the page to start 67.5 mL/h". There it is recorded. */
function nextOf({ id, action, treatment, intervention, amount, read_back: { said } }) {
  const home = `/crew/${document.body.dataset.case}/`;
  if (["hold", "stop"].includes(action)) return { href: `${home}change/${intervention}/?order=${id}`, text: action === "hold" ? _("Open the page to hold it") : _("Open the page to stop it") };
  const much = amountText(said.rate ?? said.volume ?? amount);
  if (action === "change") return { href: `${home}change/${intervention}/?order=${id}`, text: _("Open the page to set {much}", { much }) };
  return { href: `${home}give/${treatment}/?order=${id}`, text: action === "start" ? _("Open the page to start {much}", { much }) : _("Open the page to give {much}", { much }) };
}

/* After the read-back the page says whether it matched and what is next. */
export function startReadback(form) {
  tidy(form);
  startLabels(form);
  form.addEventListener("entry-sent", ({ detail }) => {
    const outcome = document.querySelector(".outcome");
    const differs = detail?.matches === false;
    const fields = (detail?.differences ?? []).map((name) => FIELDS[name] ?? name).join(", ");
    form.toggleAttribute("data-keeps", differs);
    if (differs) emptyFields(form, detail.differences);
    const matches = detail?.matches === true;
    outcome.querySelector("[data-says]").textContent = differs ? _("Does not match: {fields}", { fields }) : matches ? _("Read-back matches the order") : _("Read-back sent");
    outcome.toggleAttribute("data-as-ordered", matches);
    outcome.querySelector("[data-again]").hidden = matches;
    if (matches) outcome.querySelector("[data-state-text]").textContent = detail.action && !["give", "start"].includes(detail.action) ? _("It may be done as ordered.") : _("What is set up may be given as ordered.");
    const cameTo = detail?.read_back?.came_to;
    const held = cameTo ? _("What is set up comes to {amount}. ", { amount: amountText(cameTo) }) : "";
    if (differs) outcome.querySelector("[data-state-text]").textContent = _("Stop. {held}Check it against the order, then read back again.", { held });
    const next = outcome.querySelector("[data-when-sent]");
    const { href, text } = matches ? nextOf(detail) : { href: form.dataset.orderPage, text: _("To the order") };
    Object.assign(next, { href, textContent: text });
  });
}
