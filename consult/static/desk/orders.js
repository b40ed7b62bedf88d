// Orders while they are typed: the rules are asked with each keystroke and each card, ten times what was asked wants a second
// press, the newest vitals stand beside the form. Requests that wait are put to the rules anew with each card, too.

import { _ } from "../core/words.js";
import { times } from "../core/amounts.js";
import { Judge, byWeight, findingLine, judged, line, madeWith, weightMatters } from "../core/check.js";
import { collect, stepsIn } from "../core/form.js";
import { hereText, tick } from "../core/times.js";
import { shifted } from "./press.js";

const TEN = 10 * (1 - 1e-9);
const LEADS = { over_hard_limit: ["over", _("Over a hard limit")], needs_order: ["order", _("Needs your order")], caution: ["caution", _("Caution")], within: ["within", _("Within")] };
const ROUTES = { IV: "IV", IO: "IO", IM: "IM", IN: "intranasal", SC: "subcut", PO: _("by mouth") };
const judges = new WeakMap(); // of a form or of the block of a request

const mayAsk = () => document.body.dataset.role !== "supervisor";

const ask = (url) => (proposal) => judged(url, proposal, _("the server could not be reached"));
const plain = (text) => line("li", text);

function finding(level, text) {
  const [mark, lead] = LEADS[level];
  const item = findingLine("li", level, line("b", `${lead}: `), text);
  item.dataset.mark = mark;
  return item;
}

function lines(check) {
  if (check.unchecked) return [plain(check.unchecked)];
  const found = check.findings.map(({ level, text }) => finding(level, text));
  return found.length ? found : [finding("within", _("the standing limits"))];
}

/** What the dose would do, in the server's words; times as they read here. */
const effects = (check) => (check?.effects ?? []).map((text) => line("li", hereText(text), "effect"));

// ---- a request that waits

function showRequest(part, check) {
  if (check.unchecked) return; // what was found before stands, with its time
  const [list, fresh] = [part.querySelector("[data-checked]"), lines(check)];
  const text = (items) => [...items].map((each) => each.textContent).join();
  if (text(list.children) !== text(fresh)) list.replaceChildren(...fresh); // what is under a finger moves only for news
  part.querySelector("[data-made]").textContent = madeWith(check, _("checked again"));
  part.querySelector("[data-effects]").replaceChildren(...effects(check));
}

function checkRequest(part) {
  if (judges.has(part)) return judges.get(part).again();
  const judge = new Judge(ask(part.dataset.check), () => showRequest(part, judge.check));
  judges.set(part, judge);
  return judge.put(JSON.parse(part.dataset.proposal));
}

// ---- what a form offers: the routes and units that the rule set has for the treatment, no others

const offered = () => JSON.parse(document.getElementById("offered").textContent);

function fill(select, values, words = (value) => value) {
  const [first] = select.options;
  const options = values.filter((value) => value !== first.dataset.same).map((value) => new Option(words(value), value));
  const chosen = select.value;
  select.replaceChildren(first, ...options);
  select.value = values.includes(chosen) ? chosen : values.length === 1 && !first.dataset.same ? values[0] : "";
}

/** What the treatment is for, to be chosen where it has more than one indication. */
function showForWhat(form, indications) {
  const field = form.querySelector("[data-for-what]");
  if (!field) return;
  const select = form.elements.indication;
  const titles = Object.fromEntries(indications);
  field.hidden = select.disabled = indications.length < 2;
  fill(select, indications.map(([slug]) => slug), (slug) => titles[slug]);
}

/** The steps by which a crew may raise a rate: offered for a rate alone, asked for once they are ticked. */
function showSteps(form, rate = true) {
  const steps = form.querySelector("[data-steps]");
  if (!steps) return;
  steps.hidden = !rate;
  const part = steps.querySelector("[data-stepped]");
  part.hidden = !rate || !form.elements.stepped.checked;
  for (const field of part.querySelectorAll("input, select")) field.disabled = part.hidden;
}

/** Offer in a form's lists what its treatment has; a treatment that the rule set lacks keeps what stands there. */
function narrow(form) {
  const asked = JSON.parse(form.closest("[data-proposal]")?.dataset.proposal ?? "null");
  const choice = offered()[form.elements.treatment?.value ?? asked?.treatment];
  if (!choice) return;
  showForWhat(form, choice.indications);
  const { route } = form.elements;
  if (route.matches("[data-as-asked]")) route.options[0].dataset.same = asked?.route ?? "";
  if (route.options) fill(route, choice.routes, (value) => ROUTES[value] ?? value);
  fill(form.elements["amount.unit"], choice.units);
  form.elements["amount.unit"].value ||= unitOf(form);
  for (const [fits, parts] of [[!choice.rate, "[data-series]"], [choice.rate, "[data-of-rate]"], [choice.product, "[data-of-product]"]]) {
    for (const part of form.querySelectorAll(parts)) part.hidden = !fits;
  }
  showSteps(form, choice.rate);
  if (form.elements["concentration.unit"]?.options) fill(form.elements["concentration.unit"], choice.per_ml, (unit) => unit.replace("/mL", " per mL"));
  if (form.elements["concentration.unit"]?.options) form.elements["concentration.unit"].value ||= choice.per_ml[0] ?? ""; // that of the strength which is checked
}

/** The unit of a rate that stands in its form, for the steps alone may change. */
const unitOf = (form) => (asked(form)?.titrate ? asked(form).amount : JSON.parse(form.dataset.was ?? "null"))?.unit ?? "";

// ---- a form that is typed into

const asked = (form) => JSON.parse(form.closest("[data-proposal]")?.dataset.proposal ?? "null");

/** What is typed as a proposal, over what was asked for; null while amount, unit or route is missing. */
function proposalOf(form) {
  const { reason, decision, repeat, titrate, action, intervention, hard_limit_reason: beyond, ...typed } = collect(form);
  const { titrate: before, ...same } = asked(form) ?? {};
  const proposal = { ...same, ...typed };
  if (!typed.amount?.value || !typed.amount.unit || !proposal.route || !proposal.treatment) return null;
  if (action === "change") proposal.new_rate = true;
  if (titrate?.step?.value && titrate.most?.value && titrate.every_min && titrate.goal?.floor && titrate.goal.measure) proposal.titrate = stepsIn(titrate, typed.amount.unit);
  if (proposal.concentration && !(proposal.concentration.value && proposal.concentration.unit)) delete proposal.concentration;
  return proposal;
}

/** "ten times what was asked" where a typed amount is that far off; an empty text where it is not. */
function farOff(form, check) {
  const [was, { amount }] = [asked(form)?.amount ?? JSON.parse(form.dataset.was ?? "null"), collect(form)];
  const before = form.dataset.was ? _("what runs") : _("what was requested");
  if (!was || !amount?.value || !amount.unit) return "";
  const factor = times({ value: Number(String(amount.value).replace(",", ".")), unit: amount.unit }, was, check?.weight_used?.value);
  if (factor === null || !(factor >= TEN || (factor > 0 && 1 / factor >= TEN))) return "";
  const far = Math.round((factor >= 1 ? factor : 1 / factor) * 10) / 10;
  const compared = factor >= 1 ? _("{factor} times {before}", { factor: far === 10 ? "ten" : far, before }) : _("{part} of {before}", { part: far === 10 ? "a tenth" : `1/${far}`, before });
  return _("{amount} {unit} is {compared} ({was} {was_unit})", { amount: amount.value, unit: amount.unit, compared, was: was.value, was_unit: was.unit });
}

function showForm(form) {
  const { check } = judges.get(form);
  const far = farOff(form, check);
  const told = check ? [...(check.give?.shown ? [plain(check.give.shown)] : []), ...effects(check), ...lines(check)] : [];
  if (check && weightMatters(check)) told.push(plain(byWeight(check).join("")));
  if (check?.at) told.unshift(line("li", madeWith(check), "made-with num"));
  if (far) told.unshift(line("li", `${far}.`, "far-off"));
  showFound(form.querySelector("[data-findings]"), told);
  showHard(form, mayBeCosigned(check));
  showReason(form, check?.verdict === "needs_order"); // over a hard limit its own reason will do
  showButton(form, far, check?.verdict === "over_hard_limit" && !mayBeCosigned(check));
}

/** Whether what lies over a hard limit is the amount alone: two physicians may order that. */
function mayBeCosigned(check) {
  const over = check?.findings?.filter(({ level }) => level === "over_hard_limit") ?? [];
  return over.length > 0 && over.every(({ code }) => code === "above_hard_limit");
}

const resting = new WeakMap(); // of the words over a reason, what they say where none is needed

/** A reason that will be asked for is asked for before anything is sent. */
function showReason(form, isNeeded) {
  const words = form.querySelector("[data-needed]");
  if (!words) return;
  if (!resting.has(words)) resting.set(words, words.textContent);
  words.textContent = isNeeded ? words.dataset.needed : resting.get(words);
  form.elements.reason.required = isNeeded;
}

/** Ask why, while a second physician is needed. */
function showHard(form, shown) {
  const field = form.querySelector("[data-hard]");
  if (field.hidden === !shown) return;
  field.hidden = field.querySelector("input").disabled = !shown;
  shifted();
}

/** All lines in full; what grew for them stays as high, so that the buttons move once at most. */
function showFound(list, told) {
  const high = list.offsetHeight;
  list.replaceChildren(...told);
  list.style.minHeight = high ? `${high}px` : "";
  if (list.offsetHeight === high) return;
  shifted();
  if (high) list.closest("form").scrollIntoView({ block: "nearest" }); // the button too
}

/** A dose over a hard limit cannot be ordered: its button is shut and says so. */
function showButton(form, far, over) {
  const button = form.querySelector("[type='submit']");
  button.dataset.says ??= button.textContent;
  if (over || form.dataset.sure !== far) delete form.dataset.sure;
  button.disabled = over || Boolean(form.closest("[data-held]"));
  const sure = form.dataset.sure ? _("Press again: {far}", { far }) : button.dataset.says;
  button.textContent = over ? _("Over a hard limit: cannot be ordered") : sure;
}

function checkForm(form, anew = false) {
  if (!judges.has(form)) judges.set(form, new Judge(ask(form.dataset.check), () => showForm(form)));
  if (anew) judges.get(form).again();
  else judges.get(form).put(proposalOf(form));
  showForm(form);
}

function ageOf(at) {
  const age = line("span", "", "age");
  if (at) age.dataset.age = at;
  return age;
}

/** The newest vitals beside each form under `root`, each set with its age. */
function showNow(root) {
  for (const place of root.querySelectorAll("[data-now-line]")) {
    const source = place.closest("[data-now]") ?? document.querySelector(".card.now[data-now]");
    const sets = JSON.parse(source.dataset.now).map(({ text, at }, number) => [`${number ? " · " : ""}${text} `, ageOf(at)]);
    place.replaceChildren(line("b", _("Now ")), ...sets.flat());
  }
  tick(root);
}

/** A card has come: every check under `root` is made anew, every line of vitals written anew. */
export function checkAll(root) {
  showNow(root);
  if (!mayAsk()) return;
  for (const part of root.querySelectorAll("[data-proposal]")) checkRequest(part);
  for (const form of root.querySelectorAll("form[data-check]:not([hidden])")) checkForm(form, true);
}

/** Watch every form with a check on the page, and put the waiting requests to the rules. */
export function startOrderForms() {
  const typed = (event) => {
    const form = event.target.closest?.("form[data-check]");
    if (!form) return;
    if (event.target.name === "treatment") {
      if (form.elements["concentration.unit"]) form.elements["concentration.unit"].value = "";
      narrow(form);
    }
    if (event.target.name === "stepped") showSteps(form);
    checkForm(form);
  };
  for (const kind of ["input", "change"]) document.addEventListener(kind, typed);
  document.addEventListener("reset", (event) => event.target.matches("form[data-check]") && setTimeout(() => { narrow(event.target); checkForm(event.target); }));
  document.addEventListener("click", (event) => {
    const opener = event.target.closest("[data-act='open']");
    for (const form of opener?.closest("[data-part]").querySelectorAll("form[data-check]") ?? []) {
      narrow(form);
      if (!form.hidden && form.elements["amount.value"].value) setTimeout(() => checkForm(form));
    }
  });
  document.addEventListener("submit", holdFarOff, true);
  checkAll(document);
}

/** The first press of an amount that is far from what was asked says so and sends nothing. */
function holdFarOff(event) {
  const form = event.target;
  if (!form.matches("form[data-check]")) return;
  const far = farOff(form, judges.get(form)?.check);
  if (!far || form.dataset.sure === far) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  form.dataset.sure = far;
  showForm(form);
}
