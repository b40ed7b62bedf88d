/* A question that the first press of the main button asks, and a second one answers: about minutes, or a weight. */

import { _ } from "../core/words.js";
import { moment, since } from "../core/clock.js";

const DOUBLE_MS = 700; // a second press so soon is a double tap

export class Asking {
  #asked = null;

  /* `told` is called once another press counts. */
  constructor(form, told) {
    this.told = told;
    form.addEventListener("reset", () => { this.#asked = null; });
  }

  /* Whether this was asked by a press. */
  asked(about) {
    return Boolean(about) && this.#asked?.about === about;
  }

  /* Why the form must wait: a press that came so soon after the question is no answer. */
  held(about) {
    return this.asked(about) && since(this.#asked.at) < DOUBLE_MS ? _("Sure? Press again") : "";
  }

  /* Whether this press must only ask, which is shown at `place`; the next one is the answer. */
  asks(about, place) {
    if (!about || this.asked(about)) return false;
    this.#asked = { about, at: moment() };
    for (let box = place.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
    if (!place.closest(".dock")) place.scrollIntoView({ block: "center" }); // the bar at the foot is in sight
    setTimeout(this.told, DOUBLE_MS);
    return true;
  }
}
