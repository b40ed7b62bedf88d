/* What is typed, put to the rules once typing rests. What they answer belongs to the dose that is typed, or is dropped. */

const RESTS_MS = 200;

export class Judge {
  #timer = null;
  #asked = "";
  #turn = 0;
  check = null;

  /* `ask` puts a proposal to the rules and resolves to their check, `told` is called when one has come. */
  constructor(ask, told) {
    this.ask = ask;
    this.told = told;
  }

  /* This is typed now: a check of anything else is forgotten at once. */
  put(proposal) {
    const asked = JSON.stringify(proposal);
    if (asked === this.#asked) return;
    this.#asked = asked;
    this.check = null;
    this.#later(proposal, RESTS_MS);
  }

  /* The same dose anew: the case has moved on. Until the answer the old check stands with its time. */
  again() {
    this.#later(JSON.parse(this.#asked || "null"), 0);
  }

  #later(proposal, wait) {
    const turn = ++this.#turn;
    clearTimeout(this.#timer);
    if (proposal) this.#timer = setTimeout(() => this.#put(proposal, turn), wait);
  }

  async #put(proposal, turn) {
    const check = await this.ask(proposal);
    if (turn !== this.#turn) return;
    this.check = check;
    this.told();
  }
}

/* "checked 12:03:10 with MAP 34": when, and with which pressure; `clock` writes a time, `how` what was done. */
export function madeWith({ at, pressure }, clock, how = "checked") {
  const known = pressure ? pressure.text.split(", goal")[0] : "no pressure known";
  return at ? `${how} ${clock(Date.parse(at))} with ${known}` : "";
}
