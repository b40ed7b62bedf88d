/* The next rate of what runs by an order with steps: one press records it. Which rate, from when, and from when a pressure
   comes first, the server says. */

import { _ } from "../core/words.js";
import { serverNow } from "../core/clock.js";
import { countText } from "../core/times.js";
import { EntryForm } from "./entry.js";

const LOOK_MS = 500;

export class StepForm {
  constructor(form, queue) {
    this.place = () => form.parentElement.querySelector("[data-part]");
    this.done = ""; // the step that was recorded last: it stands until the server says the next one
    this.entry = new EntryForm(form, queue, {
      complete: () => this.held(), ready: () => _("Up to {rate} now", { rate: this.place().dataset.says }), says: () => _("New rate {rate}", { rate: this.place().dataset.says }),
      amend: (data) => { data.amount = JSON.parse(this.place().dataset.step); this.done = this.place().dataset.step; },
    });
    document.addEventListener("parts", () => this.moved(form));
    setInterval(() => this.look(form), LOOK_MS);
    this.look(form);
  }

  /* Why no step is wanted, with the goal by the newest pressure that this phone knows; "" where one is. */
  get heldWord() {
    const { held, atGoal, phoneGoal, goalWord } = this.place().dataset;
    return held ?? ((phoneGoal ?? atGoal) === "yes" ? goalWord : "");
  }

  /* Whether the step was recorded on this phone, and the server has not said the next one yet. */
  get isSet() {
    const { step, phoneSet } = this.place().dataset;
    return Boolean(step) && [this.done, phoneSet].includes(step);
  }

  /* Whether a pressure is wanted before the rate goes up again. */
  get wantsPressure() {
    const { step, pressureAt, phonePressureAt } = this.place().dataset;
    return Boolean(step && !this.heldWord && !this.isSet && Date.parse(phonePressureAt ?? pressureAt) <= serverNow());
  }

  /* While a pressure comes first, the way to it stands where the step would. */
  look(form) {
    const first = this.wantsPressure;
    const [way, next] = [".stepping-pressure", ".stepping-next"].map((part) => this.place().querySelector(part));
    if (way) way.hidden = !first;
    if (next) next.hidden = first || this.isSet || Boolean(this.heldWord);
    const goal = this.place().querySelector(".stepping-goal");
    if (goal) goal.hidden = !this.heldWord;
    form.querySelector("button").hidden = first;
    this.entry.refresh();
  }

  /* Why no step is set now, as the button's words; "" where one may be. */
  held() {
    const { dataset, textContent } = this.place();
    if (textContent === dataset.gone) return _("No further step by this order");
    if (this.heldWord || !dataset.step) return this.heldWord || _("No further step");
    if (this.isSet) return _("Recorded: {entry}", { entry: dataset.says });
    if (this.wantsPressure) return _("A pressure first");
    const left = Date.parse(dataset.from) - serverNow();
    return left > 0 ? _("Up to {rate} in {time}", { rate: dataset.says, time: countText(Math.ceil(left / 1000) * 1000) }) : "";
  }

  /* Once the server has taken the step and says the next one, the form stands for that. */
  moved(form) {
    if (this.entry.settled && form.hidden && this.place().dataset.step !== this.done) this.entry.again();
    this.look(form);
  }
}
