/* A dose put to the rules, and what they say as lines on the page. What was given over a hard limit is recorded all the same,
   but not by the same tap. */

import { _ } from "../core/words.js";
import { amountText } from "../core/amounts.js";
import { Judge, byWeight, findingLine, judged, line, madeWith, weightMatters } from "../core/check.js";

const LEAD = { over_hard_limit: _("Over a hard limit: "), needs_order: _("Needs an order: ") };
const NO_LINK = _("offline. The limits above are from when this page was loaded.");

/* The judge of a page of the crew: made anew whenever the case has moved on. */
export function startJudge(told) {
  const judge = new Judge((proposal) => judged(`/api/v1/cases/${document.body.dataset.case}/checks/`, proposal, NO_LINK), told);
  document.addEventListener("case-moved", () => judge.again());
  return judge;
}

/* At which true weights the verdict would be another one, where the weight was not measured. */
function rangeLine(check) {
  const [lead, text] = byWeight(check);
  const range = line("p", "", "by-weight");
  range.append(line("b", lead), text);
  return range;
}

const madeLine = (check) => line("p", `${check.findings.length ? "" : _("Within the limits, ")}${madeWith(check)}`, "made-with quiet num");

/* One finding; of what is ordered the rules say themselves what that covers. */
export const finding = ({ level, text }) => findingLine("p", level, LEAD[level] ?? "", text);

/* "10 mcg = 1 mL" as the rules say it, else the amount as it was chosen. */
export const doseText = (check, amount, measured = "") => [check?.words?.dose ?? amountText(amount), check?.words?.measure ?? measured].filter(Boolean).join(" ");

/* The lines of a check: its findings, for a guessed weight where its verdict ends, and with what it was made. */
export function checkLines(check) {
  const findings = check?.unchecked ? [{ level: "caution", text: check.unchecked }] : check?.findings ?? [];
  const range = check && weightMatters(check) ? [rangeLine(check)] : [];
  return [...findings.map((each) => finding(each)), ...range, ...(check?.at ? [madeLine(check)] : [])];
}

/* How it is made to run, in the server's words. */
export function showFlow(box, flow) {
  if (!box) return;
  box.hidden = !flow;
  box.replaceChildren(...(flow?.lines ?? []).map((text) => line("p", text)));
}

/* Another button, in another place, names what lies beyond a hard limit, or is ten times what was ordered, first. */
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
    const reasons = [limits.length ? _("Over a hard limit: {limits}", { limits: limits.join("; ") }) : "", far].filter(Boolean).join(". ");
    this.#asked = recording && reasons ? `${what}: ${reasons}` : "";
    this.box.hidden = !this.waits;
    this.box.querySelector("[data-limit]").textContent = reasons;
    this.box.querySelector("button").textContent = _("I am sure: it was {dose}", { dose: what });
  }

  get waits() {
    return this.#asked !== "" && this.#asked !== this.#sure;
  }
}
