/* Numbers that hardly are so: asked by a first press. An age and a weight that hardly go together are also said at once, beside
   the field; what weighs what comes with the page, so that it is asked without a link, too. */

import { _ } from "../core/words.js";
import { Asking } from "./asking.js";
import { typedAge } from "./fields.js";

const number = (text) => Number(text.replace(",", "."));

/* The weights between which somebody of this age and sex usually is, of `spans` [of an age in years, in months, of adults]. */
export function spanOf(spans, age, sex) {
  if (!age) return spans.adult;
  const by = spans[sex] ?? spans.any;
  const months = age.unit === "days" ? (age.value * 12) / 365 : age.value;
  if (age.unit === "years") return by.years[Math.floor(age.value)] ?? spans.adult; // all of the year that is meant
  return by.months[Math.floor(months)] ?? by.years[Math.floor(months / 12)] ?? spans.adult;
}

const ageText = ({ value, unit }) => `${value} ${value === 1 ? unit.replace(/s$/, "") : unit}`;

/* "4 years, 80 kg: heavier than nearly all of that age. Is it so?"; "" where they go together. */
function doubtText(spans, age, sex, kilograms) {
  const [low, high] = spanOf(spans, age, sex);
  if (!(kilograms > 0) || (kilograms >= low && kilograms <= high)) return "";
  const whom = spanOf(spans, age, sex) === spans.adult ? "adults" : _("of that age");
  const ofPounds = Math.round(kilograms * spans.kg_per_pound * 10) / 10;
  const pounds = kilograms > high && ofPounds >= low && ofPounds <= high ? _(" Typed in pounds? That is {ofPounds} kg.", { ofPounds }) : "";
  return _("{age}, {kilograms} kg: {high} than nearly all {whom}.{pounds} Is that right?", { age: age ? ageText(age) : _("Adult, age unknown"), kilograms, high: kilograms > high ? "heavier" : "lighter", whom, pounds });
}

export class Doubt {
  /* `ask` is what else the form asks about its numbers, "" where nothing: said only once it was asked. */
  constructor(form, told, ask) {
    Object.assign(this, { form, ask, asking: new Asking(form, told), place: (ask ? document : form).querySelector("[data-doubt]") });
    if (this.place && !ask) this.spans = JSON.parse(document.getElementById("weight-spans").textContent);
  }

  get question() {
    if (this.ask) return this.ask();
    const weight = this.place && this.form.elements["patient.weight.value"];
    if (!weight || weight.disabled) return "";
    const { value, unit, sex } = this.place.dataset;
    const age = value ? { value: Number(value), unit } : typedAge(this.form.elements);
    if (!age && !value && this.form.elements.age_unknown && !this.form.elements.age_unknown.checked) return "";
    if (age && !age.unit) return "";
    return doubtText(this.spans, age, this.form.elements["patient.sex"]?.value || sex, number(weight.value));
  }

  /* Why the form must wait; the question stands beside the field. */
  held() {
    if (!this.place) return "";
    const { question } = this;
    this.place.hidden = !question || Boolean(this.ask && !this.asked);
    if (this.place.textContent !== question) this.place.textContent = question;
    return this.asking.held(question);
  }

  /* Whether the question about these figures was asked by a press. */
  get asked() {
    return this.asking.asked(this.question);
  }

  /* Whether this press must only ask; the next one is the answer. */
  asks() {
    return this.asking.asks(this.question, this.place);
  }
}
