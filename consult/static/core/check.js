// A dose that is typed, put to the rules once typing rests, and what they say of it. An answer that belongs to another dose
// than the one typed is dropped.

import { _ } from "./words.js";
import { call, sentence } from "./send.js";
import { clockText, hereText } from "./times.js";

const RESTS_MS = 200;
const WAITS_MS = 4000; // what was given is recorded, whether or not the rules can be asked
const SVG = "http://www.w3.org/2000/svg";
const MARKS = {
  over_hard_limit: "M0 0h13v13H0z", needs_order: "M6.500 0 13 6.500 6.500 13 0 6.500z",
  caution: "M5.200 0h2.600v8H5.200zM5.200 10h2.600v2.800H5.200z",
  within: "M1 7l1.500-1.500 2.700 2.700L11 2.300 12.500 3.800 5.200 11.100z",
};

/** Put a proposal to the rules: their check, or {unchecked} that says why there is none; `unreached` are the words where
 * nobody answered. */
export async function judged(url, proposal, unreached) {
  const late = new Promise((resolve) => { setTimeout(resolve, WAITS_MS, null); });
  const answer = await Promise.race([call("POST", url, proposal).catch(() => null), late]);
  if (answer?.ok && answer.content) return answer.content;
  return { unchecked: _("Not checked: {why}", { why: answer?.content ? sentence(answer.content, answer.status) : unreached }) };
}

export class Judge {
  #timer = null;
  #asked = "";
  #turn = 0;
  check = null;

  /** `ask` puts a proposal to the rules and resolves to their check, `told` is called when one has come. */
  constructor(ask, told) {
    this.ask = ask;
    this.told = told;
  }

  /** This is typed now: a check of anything else is forgotten at once. */
  put(proposal) {
    const asked = JSON.stringify(proposal);
    if (asked === this.#asked) return;
    this.#asked = asked;
    this.check = null;
    this.#later(proposal, RESTS_MS);
  }

  /** The same dose anew: the case has moved on. Until the answer the old check stands with its time. */
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

/** "checked 12:03:10 with MAP 34": when, and with which pressure; `how` what was done. */
export function madeWith({ at, pressure }, how = "checked") {
  return at ? _("{how} {at} with {measured}", { how, at: clockText(at), measured: pressure?.measured ?? _("no pressure on record") }) : "";
}

const OFF = 1.2; // an edge is told where the true weight may well lie beyond it: our choice, for what is shown alone

/** Whether a weight at which the verdict would be another one is near to the weight on record. */
export const weightMatters = ({ weight_range: range, weight_used: used }) =>
  [range?.least, range?.most].some((bound) => bound && used && bound / used.value <= OFF && used.value / bound <= OFF);

/** "Weight matters: ", and at which true weights the verdict would be another one. */
export const byWeight = ({ weight_range: range }) => [_("Weight matters: "), range.beyond];

/** A text in an element of its own, with a class where one is named. */
export const line = (tag, textContent, className = "") => Object.assign(document.createElement(tag), { textContent, className });

/** One finding as an element: the mark of its level, a lead, its text as it reads here. */
export function findingLine(tag, level, lead, text) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", "0 0 13 13");
  svg.setAttribute("aria-hidden", "true");
  svg.append(document.createElementNS(SVG, "path"));
  svg.firstChild.setAttribute("d", MARKS[level]);
  const [item, words] = [line(tag, "", "finding"), document.createElement("span")];
  words.append(lead, hereText(text));
  item.append(svg, words);
  return item;
}
