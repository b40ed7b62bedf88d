/* What runs gets a new rate or ends: a new rate is put to the rules before it is recorded, as a dose is. */

import { checkLines, judged, showFlow } from "./crew-check.js";
import { EntryForm, collect } from "./crew-form.js";
import { KINDS, amountText } from "./crew-kinds.js";

/* The new rate as a proposal of what runs, or null while none is typed. */
function proposalOf(form) {
  const { amount } = collect(form);
  if (!amount?.unit || !(amount.value > 0)) return null;
  return { ...JSON.parse(form.dataset.runs), amount };
}

export class ChangeForm {
  #timer = null;
  #asked = "";
  check = null;

  constructor(form, queue) {
    this.form = form;
    this.entry = new EntryForm(form, queue, { ...KINDS.change, ready: () => this.readyText() });
    for (const kind of ["input", "change"]) form.addEventListener(kind, () => this.changed());
    form.addEventListener("reset", () => setTimeout(() => this.changed()));
    this.changed();
  }

  changed() {
    const asked = this.form.dataset.runs ? JSON.stringify(proposalOf(this.form)) : "null";
    if (asked === this.#asked) return;
    this.#asked = asked;
    this.check = null;
    clearTimeout(this.#timer);
    if (asked !== "null") this.#timer = setTimeout(() => this.ask(asked), 200);
    this.show();
  }

  async ask(asked) {
    const check = await judged(JSON.parse(asked));
    if (asked !== this.#asked) return;
    this.check = check;
    this.show();
    this.entry.refresh();
  }

  show() {
    document.getElementById("findings").replaceChildren(...checkLines(this.check));
    showFlow(document.getElementById("flow"), this.check?.flow);
  }

  /* The button names the rate with its pump rate; one over a hard limit is recorded only as what was set already. */
  readyText() {
    const { status, amount } = collect(this.form);
    if (status || !amount) return this.entry?.button.dataset.ready ?? "";
    const rate = this.check?.give?.shown?.split(" of ")[0] ?? amountText(amount);
    return this.check?.verdict === "over_hard_limit" ? `Over a hard limit. Record as set: ${rate}` : `New rate: ${rate}`;
  }
}
