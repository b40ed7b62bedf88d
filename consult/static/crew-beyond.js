/* What was given over a hard limit, or ten times what was ordered, is recorded all the same, but not by the same tap:
   another button, in another place, names that first. */

export class Beyond {
  #sure = "";
  #asked = "";

  constructor(form, told) {
    this.box = form.querySelector("[data-beyond]");
    this.box.querySelector("button").addEventListener("click", () => {
      this.#sure = this.#asked;
      this.box.hidden = true;
      told();
    });
    form.addEventListener("reset", () => { this.#sure = ""; });
  }

  /* Ask about `what` where the check finds it over a hard limit or it is `far` off; to be called whenever dose or check
     are others. */
  ask(check, what, recording, far = "") {
    const limits = (check?.findings ?? []).filter(({ level }) => level === "over_hard_limit").map(({ text }) => text);
    const reasons = [limits.length ? `Over a hard limit: ${limits.join("; ")}` : "", far].filter(Boolean).join(". ");
    this.#asked = recording && reasons ? `${what}: ${reasons}` : "";
    this.box.hidden = !this.waits;
    this.box.querySelector("[data-limit]").textContent = reasons;
    this.box.querySelector("button").textContent = `I am sure: it was ${what}`;
  }

  get waits() {
    return this.#asked !== "" && this.#asked !== this.#sure;
  }
}
