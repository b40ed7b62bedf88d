/* The link line on top of every page: whether entries get through, how many wait, when the last one was sent. Pressed, it
   lists what waits and what was refused. */

import { _ } from "../core/words.js";
import { line } from "../core/check.js";
import { NEVER, moment, serverNow, since } from "../core/clock.js";
import { clockText, hereText, lengthText } from "../core/times.js";

const PROBE_MS = 5000;
const LOST_MS = 7500; // ticks come every 5 s: with 7.5 s of silence the page says so well within 10 s

/* The line's state and words, from what is known. */
export function linkLine({ linked, signedOut, waiting, refused, heldMs = 0 }) {
  const [state, text] = sending({ linked, signedOut, waiting, heldMs });
  return [state, [text, refused && _("{count} not accepted", { count: refused })].filter(Boolean).join(" · ") || _("All sent")];
}

function sending({ linked, signedOut, waiting, heldMs }) {
  if (signedOut) return ["lost", _("Signed out: sign in to send {count}", { count: waiting })];
  if (!linked) return ["lost", _("Offline: {count} waiting", { count: waiting })];
  if (waiting && heldMs > 0) return ["live", _("Too much at once: {count} waiting, sent again in {time}", { count: waiting, time: lengthText(heldMs) })];
  return ["live", waiting ? _("Sending {count}", { count: waiting }) : ""];
}

/* What was refused can still be told in words, but for a note, and where there is no such case for this crew. */
const mayBeNoted = ({ kind, problem }) => !["case", "note"].includes(kind) && problem.status !== 404;

export class Link {
  #heard = "kept" in document.body.dataset ? NEVER : moment(); // the page itself has just come, or was kept on this phone
  #was = null;
  #line = document.getElementById("link");
  #list = document.getElementById("queue");

  constructor(queue) {
    this.queue = queue;
    queue.addEventListener("change", () => this.show());
    this.#line.addEventListener("click", () => this.toggle());
    addEventListener("online", () => this.probe());
    addEventListener("offline", () => { this.#heard = NEVER; this.show(); });
    setInterval(() => this.probe(), PROBE_MS);
    setInterval(() => this.show(), 500);
    this.show();
  }

  get linked() {
    return navigator.onLine && this.queue.linked && since(this.#heard) < LOST_MS;
  }

  /* Pages hear of it as "link", on the document, when it comes or goes. */
  #tellChange() {
    if (this.linked === this.#was) return;
    this.#was = this.linked;
    document.dispatchEvent(new Event("link"));
  }

  /* Call this once there is a link. */
  whenLinked(act) {
    const once = () => {
      if (!this.linked) return;
      document.removeEventListener("link", once);
      act();
    };
    document.addEventListener("link", once);
  }

  /* Something came from the server just now. */
  heard() {
    const was = this.linked;
    this.#heard = moment();
    if (this.queue.linked && was) return;
    this.queue.linked = true;
    this.queue.send();
    this.show();
  }

  /* Read to its end: an answer that is left half read counts as broken off when the page is left. */
  async probe() {
    try {
      const answer = await fetch("/healthz", { cache: "no-store", signal: AbortSignal.timeout(4000) });
      await answer.text();
      if (answer.ok) this.heard();
    } catch { this.show(); }
  }

  async show() {
    const entries = await this.queue.all();
    const refused = entries.filter((entry) => entry.state === "refused");
    const [state, text] = linkLine({
      linked: this.linked, signedOut: this.queue.signedOut, waiting: entries.length - refused.length, refused: refused.length,
      heldMs: this.queue.heldUntil - performance.now(),
    });
    this.#line.dataset.link = state;
    this.#tellChange();
    if (this.linked) document.getElementById("held")?.remove();
    this.#line.toggleAttribute("data-refused", refused.length > 0);
    for (const id of ["link-text", "link-said"]) {
      const words = document.getElementById(id);
      if (words.textContent !== text) words.textContent = text;
    }
    const sent = await this.queue.lastSent();
    document.getElementById("link-sent").textContent = sent ? _("sent {time}", { time: clockText(sent) }) : "";
    if (!this.#list.hidden) this.list(entries);
  }

  async toggle() {
    this.#list.hidden = !this.#list.hidden;
    this.#line.setAttribute("aria-expanded", String(!this.#list.hidden));
    if (!this.#list.hidden) this.list(await this.queue.all());
  }

  list(entries) {
    const key = entries.map((entry) => `${entry.order}${entry.state}`).join();
    if (this.#list.dataset.key === key) return;
    this.#list.dataset.key = key;
    const rows = entries.map((entry) => this.#row(entry));
    if (!rows.length) rows.push(line("li", _("Nothing waits on this phone.")));
    this.#list.querySelector("ul").replaceChildren(...rows);
  }

  #row(entry) {
    const row = document.createElement("li");
    const add = (...each) => row.append(line(...each));
    add("b", entry.says);
    add("p", `${entry.who ? `${entry.who}, ` : ""}${_("{time}, {age} ago", { time: clockText(entry.made_at), age: lengthText(serverNow() - Date.parse(entry.made_at)) })}`, "quiet");
    if (entry.state !== "refused") return row;
    add("p", _("Not accepted: {problem}", { problem: hereText(entry.problem.text) }), "refusal");
    const buttons = line("div", "", "two");
    buttons.append(this.#button(_("Try again"), () => this.queue.again(entry.order)), this.#button(_("Remove from this phone"), () => this.queue.forget(entry.order)));
    if (mayBeNoted(entry)) buttons.append(this.#button(_("Keep as a note of the case"), () => this.queue.note(entry)));
    row.append(buttons);
    return row;
  }

  #button(text, act) {
    const button = Object.assign(line("button", text, "quiet-big"), { type: "button" });
    button.addEventListener("click", act);
    return button;
  }
}
