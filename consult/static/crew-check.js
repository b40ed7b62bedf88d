/* A dose put to the rules, and what they say as lines on the page. */

import { call } from "./crew-send.js";
import { clock } from "./crew-time.js";
import { Judge, madeWith } from "./judge.js";
import { hereText } from "./zone.js";

const MARKS = {
  over_hard_limit: "M1 1h11v11H1z", needs_order: "M6.5 0 13 6.5 6.5 13 0 6.5z", caution: "M5.2 0h2.6v8H5.2zM5.2 10h2.6v2.8H5.2z",
};
const LEAD = { over_hard_limit: "Over a hard limit: ", needs_order: "Needs an order: ", caution: "" };
const MARK = / \[[^\]]*\]$/; // how a source was read: the rules page tells that
const SVG = "http://www.w3.org/2000/svg";

export function findingLine({ level, text }, ordered) {
  const line = Object.assign(document.createElement("p"), { className: "finding" });
  const mark = document.createElementNS(SVG, "svg");
  mark.setAttribute("viewBox", "0 0 13 13");
  mark.setAttribute("aria-hidden", "true");
  const path = document.createElementNS(SVG, "path");
  path.setAttribute("d", MARKS[level] ?? MARKS.caution);
  mark.append(path);
  line.append(mark, Object.assign(document.createElement("span"), { textContent: `${ordered && level === "needs_order" ? "By order: " : LEAD[level] ?? ""}${hereText(text)}` }));
  return line;
}

const OFF = 2; // a guess is seldom off by more than this factor: our choice, for what is shown alone

/* Whether a bound is so near to the weight on record that the true one may lie beyond. */
const mayBeBeyond = ({ weight_range: range, weight_used: used }) =>
  [range?.least, range?.most].some((bound) => bound && used && bound / used.value <= OFF && used.value / bound <= OFF);

/* "Stated weight" or "Guessed weight", by where it comes from. */
const weightLead = ({ weight_used: used }) => `${used?.basis === "stated" ? "Stated" : "Guessed"} weight: `;

/* For which true weights the verdict holds, where the weight was not measured. */
function rangeLine(check) {
  const { text, beyond } = check.weight_range;
  const line = Object.assign(document.createElement("p"), { className: "by-weight" });
  line.append(Object.assign(document.createElement("b"), { textContent: weightLead(check) }), `${text}; ${beyond}`);
  return line;
}

/* How it is made to run, in the server's words; where the numbers come from stands behind one line. */
export function showFlow(box, flow) {
  if (!box) return;
  box.hidden = !flow;
  const line = (tag, text) => Object.assign(document.createElement(tag), { textContent: text });
  const sources = document.createElement("details");
  sources.append(line("summary", "Where these numbers come from"), ...(flow?.sources ?? []).map((text) => line("p", text.replace(MARK, ""))));
  box.replaceChildren(...(flow?.lines ?? []).map((text) => line("p", text)), ...(flow ? [sources] : []));
}

const WAITS_MS = 4000; // what was given is recorded, whether or not the rules can be asked

/* What the rules say of a dose: the check, or why there is none. */
async function judged(proposal) {
  const csrf = document.querySelector("meta[name=csrf-token]").content;
  const path = `/api/v1/cases/${document.body.dataset.case}/checks/`;
  const late = new Promise((resolve) => { setTimeout(resolve, WAITS_MS, null); });
  const answer = await Promise.race([call("POST", path, proposal, csrf).catch(() => null), late]);
  if (answer?.status === 200) return answer.content;
  const detail = answer?.content?.errors?.[0]?.detail ?? answer?.content?.detail;
  return { unchecked: detail ? `Not checked: ${hereText(detail)}` : "Not checked: no link. The limits above were judged when this page was loaded." };
}

function madeLine(check) {
  return Object.assign(document.createElement("p"), { className: "made-with quiet num", textContent: `${check.findings.length ? "" : "Within the limits, "}${madeWith(check, clock)}` });
}

/* The lines of a check: its findings, for a guessed weight where its verdict ends, and with what it was made. */
export function checkLines(check, ordered = false) {
  const findings = check?.unchecked ? [{ level: "caution", text: check.unchecked }] : check?.findings ?? [];
  const range = check && mayBeBeyond(check) ? [rangeLine(check)] : [];
  return [...findings.map((finding) => findingLine(finding, ordered)), ...range, ...(check?.at ? [madeLine(check)] : [])];
}

/* The judge of a page of the crew: made anew whenever the case has moved on. */
export function startJudge(told) {
  const judge = new Judge(judged, told);
  document.addEventListener("case-moved", () => judge.again());
  return judge;
}
