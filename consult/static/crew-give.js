/* Giving and requesting: dose and route are chosen, the server checks them and says the volume; the button says what it does. */

import { EntryForm, collect } from "./crew-form.js";
import { amountText } from "./crew-kinds.js";
import { call } from "./crew-send.js";
import { drawSyringe } from "./crew-syringe.js";
import { clock, serverNow } from "./crew-time.js";

const MARKS = {
  over_hard_limit: "M1 1h11v11H1z", needs_order: "M6.5 0 13 6.5 6.5 13 0 6.5z", caution: "M5.2 0h2.6v8H5.2zM5.2 10h2.6v2.8H5.2z",
};
const LEAD = { over_hard_limit: "Over a hard limit: ", needs_order: "Needs an order: ", caution: "" };
const MARK = / \[[^\]]*\]$/; // how a source was read: the rules page tells that
const TIMED = ["too_soon", "no_pressure_since_last_dose"]; // findings that waiting or measuring takes away
const SVG = "http://www.w3.org/2000/svg";

function findingLine({ level, text }) {
  const line = Object.assign(document.createElement("p"), { className: "finding" });
  const mark = document.createElementNS(SVG, "svg");
  mark.setAttribute("viewBox", "0 0 13 13");
  mark.setAttribute("aria-hidden", "true");
  const path = document.createElementNS(SVG, "path");
  path.setAttribute("d", MARKS[level] ?? MARKS.caution);
  mark.append(path);
  line.append(mark, Object.assign(document.createElement("span"), { textContent: `${LEAD[level] ?? ""}${text}` }));
  return line;
}

/* For which true weights the verdict holds, where the weight is a guess. */
function rangeLine({ text, beyond }) {
  const line = Object.assign(document.createElement("p"), { className: "by-weight" });
  line.append(Object.assign(document.createElement("b"), { textContent: "Guessed weight: " }), `${text}; ${beyond}`);
  return line;
}

/* How it is made to run, in the server's words; where the numbers come from stands behind one line. */
function showFlow(box, flow) {
  if (!box) return;
  box.hidden = !flow;
  const line = (tag, text) => Object.assign(document.createElement(tag), { textContent: text });
  const sources = document.createElement("details");
  sources.append(line("summary", "Where these numbers come from"), ...(flow?.sources ?? []).map((text) => line("p", text.replace(MARK, ""))));
  box.replaceChildren(...(flow?.lines ?? []).map((text) => line("p", text)), ...(flow ? [sources] : []));
}

/* The chosen dose as the API's amount: one of those offered, or typed. */
function chosenAmount(form) {
  const picked = form.elements.dose?.value;
  if (picked && picked !== "other") return { value: Number(picked.split(" ")[0]), unit: picked.split(" ")[1] };
  return collect(form).amount?.unit && collect(form).amount.value > 0 ? collect(form).amount : null;
}

/* What is put to the rules, or null while dose or route is missing. */
function proposalOf(form) {
  const { route, stock, concentration, over_min, product } = collect(form);
  const amount = chosenAmount(form);
  if (!amount || !route) return null;
  const proposal = { treatment: form.dataset.treatment, amount, route, stock, concentration, over_min, product };
  return Object.fromEntries(Object.entries(proposal).filter(([, value]) => value !== undefined));
}

export class DoseForm {
  #timer = null;
  #asked = "";
  check = null;

  constructor(form, queue) {
    this.form = form;
    this.request = form.dataset.kind === "order";
    this.infusion = "infusion" in form.dataset;
    this.already = document.getElementById("already");
    this.running = this.infusion || form.elements.over_min !== undefined;
    form.addEventListener("change", () => this.changed());
    form.addEventListener("input", () => this.changed());
    form.addEventListener("reset", () => setTimeout(() => this.changed()));
    form.addEventListener("reset", () => { if (this.already) this.already.open = false; });
    this.entry = new EntryForm(form, queue, {
      complete: (_, already) => this.missing(already), ready: (_, already) => this.readyText(already), says: (data) => this.saysText(data),
      amend: (data, already) => this.amend(data, already), already: () => Boolean(this.already?.open),
    });
    this.already?.addEventListener("toggle", () => this.entry.refresh());
    form.addEventListener("entry-sent", () => this.forgetCarried());
    setInterval(() => this.waitsUntil && this.entry.refresh(), 1000);
    this.changed();
  }

  changed() {
    const other = document.getElementById("other-dose");
    if (this.form.elements.dose) other.hidden = this.form.elements.dose.value !== "other";
    const asked = JSON.stringify(proposalOf(this.form));
    if (asked !== this.#asked) {
      this.#asked = asked;
      this.check = null;
      clearTimeout(this.#timer);
      if (asked !== "null") this.#timer = setTimeout(() => this.ask(asked), 200);
    }
    this.show();
  }

  async ask(asked) {
    const csrf = document.querySelector("meta[name=csrf-token]").content;
    const path = `/api/v1/cases/${document.body.dataset.case}/checks/`;
    let answer = null;
    try { answer = await call("POST", path, JSON.parse(asked), csrf); } catch { /* no link: said below */ }
    if (asked !== this.#asked) return;
    if (answer?.status === 200) this.check = answer.content;
    else this.check = { unchecked: answer?.content?.detail ? `Not checked: ${answer.content.errors?.[0]?.detail ?? answer.content.detail}` : "Not checked: no link. The limits above were judged when this page was loaded." };
    this.show();
    this.entry.refresh();
  }

  show() {
    const amount = chosenAmount(this.form);
    const dose = document.getElementById("dose");
    dose.hidden = !amount;
    if (amount) {
      const [whole, rest = ""] = (this.check?.give?.shown ?? amountText(amount)).split(" = ");
      const [first, over] = whole.split(" over ");
      const [volume, of] = rest.split(" of ");
      document.getElementById("dose-amount").textContent = first;
      document.getElementById("dose-volume").textContent = volume ? `= ${volume}` : over ? `over ${over}` : "";
      document.getElementById("dose-of").textContent = of ? `of ${of}` : this.check?.give && !this.check.give.volume && !this.check.give.rate ? "Volume not known: choose the strength in hand" : "";
    }
    const swapped = this.check?.give?.if_swapped ?? [];
    document.getElementById("dose-swapped").textContent = swapped.length ? `Read the label: ${swapped.join("; ")}` : "";
    const findings = this.check?.unchecked ? [{ level: "caution", text: this.check.unchecked }] : this.check?.findings ?? [];
    const range = this.check?.weight_range;
    const lines = [...findings.map(findingLine), ...(range ? [rangeLine(range)] : [])];
    document.getElementById("findings").replaceChildren(...lines);
    showFlow(document.getElementById("flow"), this.check?.flow);
    drawSyringe(document.getElementById("syringe"), this.check?.give?.volume, this.check?.give?.syringe);
    this.showVolumes();
    this.carry();
  }

  /* What each amount is of the strength in hand, once that is chosen; the server has worked it out for every strength. */
  showVolumes() {
    const strength = this.strength?.value;
    for (const each of this.form.querySelectorAll("small[data-volumes]")) each.textContent = JSON.parse(each.dataset.volumes)[strength] ?? "";
  }

  get strength() {
    return this.form.querySelector('input[name="stock"]:checked, input[name="concentration"]:checked');
  }

  /* An order is asked for what was chosen here, not from the beginning. */
  carry() {
    const ask = document.getElementById("ask");
    if (!ask) return;
    const { route, over_min, product } = collect(this.form);
    const amount = chosenAmount(this.form);
    const chosen = { route, over_min, product, amount: amount && amountText(amount), strength: this.strength?.value };
    const address = new URL(ask.href);
    for (const [name, value] of Object.entries(chosen)) value ? address.searchParams.set(name, value) : address.searchParams.delete(name);
    ask.href = address;
  }

  /* What came along was for this one request: the next one begins with nothing chosen. */
  forgetCarried() {
    if (!("carried" in this.form.dataset)) return;
    for (const each of this.form.elements) if (each.type === "radio") each.defaultChecked = false;
    if (this.form.elements.product) this.form.elements.product.defaultValue = "";
  }

  get waitsUntil() {
    const next = this.check?.findings?.some((finding) => finding.code === "too_soon") ? this.check.next_at : this.form.dataset.nextAt;
    return next && Date.parse(next) > serverNow() ? next : null;
  }

  /* Whether no waiting and no measuring helps: this dose needs an order whenever it is given. */
  get needsOrder() {
    const beyond = this.check?.findings?.filter(({ level, code }) => level === "needs_order" && !TIMED.includes(code)) ?? [];
    return beyond.length > 0 && !this.form.dataset.order;
  }

  get prepared() {
    const ways = [...this.form.querySelectorAll(".recipe")];
    return !ways.length || ways.some((way) => [...way.querySelectorAll("input")].every((step) => step.checked));
  }

  /* What is still missing, as the button's words; "" when it may be pressed. What was given already only needs to be named. */
  missing(already = false) {
    const data = collect(this.form);
    if (!chosenAmount(this.form) || !data.route) return true;
    if (this.infusion && !data.concentration && !already) return "Choose the strength in hand";
    if (this.request) return data.reason ? (this.check?.verdict === "over_hard_limit" ? "Over a hard limit" : "") : "Say the reason";
    if (already) return "";
    if (this.check?.verdict === "over_hard_limit") return "Over a hard limit";
    if (this.needsOrder) return "Needs an order";
    if (this.waitsUntil) return `Not before ${clock(this.waitsUntil)}`;
    if (this.check?.verdict === "needs_order" && !this.form.dataset.order) return "Pressure first, or an order";
    if (!this.check) return "Checking …";
    return this.prepared ? "" : `Tick each step first: ${this.wholeText()}`;
  }

  doseText() {
    return this.check?.give?.shown?.split(" of ")[0] ?? amountText(chosenAmount(this.form));
  }

  /* Dose, volume, drug and route, as the main button and what was sent name them. */
  wholeText() {
    return `${this.doseText()} ${this.form.dataset.drug} ${this.routeText()}`;
  }

  readyText(already) {
    if (this.request) return `Request ${this.wholeText()}`;
    const done = already ? "Record as given" : this.running ? "Started now" : "Given now";
    return `${done}: ${this.wholeText()}`;
  }

  routeText() {
    return this.form.querySelector("input[name=route]:checked")?.parentNode.textContent.trim() ?? "";
  }

  saysText({ status, prior }) {
    const done = this.request ? "Order requested" : prior ? "Given by others" : status === "running" ? "Started" : "Given";
    return `${done}: ${this.form.dataset.title} ${this.doseText()}, ${this.routeText()}`;
  }

  amend(data, already) {
    data.amount = chosenAmount(this.form);
    if (this.request && this.infusion) data.action = "start";
    if (!this.request && !already) {
      data.given_at = new Date().toISOString();
      delete data.prior; // what is given now is given by this crew
      delete data.prior_by;
    }
    if (!this.request) data.status = this.infusion || (this.running && !already) ? "running" : "given";
  }
}
