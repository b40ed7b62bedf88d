// The replay: steps through the journal, shows the card as it was stored with each entry, ages measured at that moment.

import { _ } from "../core/words.js";
import { parse } from "../core/parts.js";
import { call, newId, sentence } from "../core/send.js";
import { clockText, tick } from "../core/times.js";

const PLAY_MS = 1000;
const replay = document.getElementById("replay");
const last = Number(replay.dataset.last);
const opened = Date.parse(replay.dataset.opened);
const cards = new Map();
let seq = Number(replay.dataset.seq);
let playing = null;

const lineOf = (number) => document.querySelector(`#journal [data-seq="${number}"]`);

/** The card of an entry as HTML; asked for once. */
function cardOf(number) {
  if (!cards.has(number)) {
    const address = `/history/${replay.dataset.case}/card/${number}/`;
    cards.set(number, fetch(address, { credentials: "same-origin" }).then((answer) => {
      if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
      return answer.text();
    }));
    cards.get(number).catch(() => cards.delete(number));
  }
  return cards.get(number);
}

/** The clock stands at the moment of the entry: every age is what it was then. */
function freeze(line) {
  tick(document.getElementById("replay-card"), Date.parse(line.dataset.at));
  document.getElementById("at").textContent = clockText(line.dataset.at, true, opened);
}

function mark(line) {
  for (const each of document.querySelectorAll("#journal li")) {
    each.toggleAttribute("data-ahead", Number(each.dataset.seq) > seq);
    if (each === line) each.setAttribute("aria-current", "step");
    else each.removeAttribute("aria-current");
  }
  const list = document.getElementById("journal");
  const top = line.offsetTop - list.offsetTop;
  if (top < list.scrollTop || top + line.offsetHeight > list.scrollTop + list.clientHeight) list.scrollTop = top - list.clientHeight / 3;
}

async function go(number) {
  const wanted = Math.min(Math.max(number, 1), last);
  seq = wanted;
  const line = lineOf(wanted);
  const slider = document.getElementById("slider");
  slider.value = String(wanted);
  slider.setAttribute("aria-valuetext", _("entry {wanted} of {last}, {line}", { wanted, last, line: clockText(line.dataset.at, true, opened) }));
  for (const place of document.querySelectorAll("[data-entry]")) place.textContent = String(wanted);
  mark(line);
  try {
    const html = await cardOf(wanted);
    if (seq !== wanted) return;
    const frame = document.getElementById("replay-card");
    const legend = frame.querySelector("legend");
    legend.textContent = _("Card after entry {wanted}; nothing can be pressed", { wanted });
    frame.replaceChildren(legend, ...parse(html).childNodes);
    freeze(line);
    history.replaceState(null, "", `?seq=${wanted}`);
    for (const near of [wanted + 1, wanted - 1]) if (near >= 1 && near <= last) cardOf(near).catch(() => {});
  } catch {
    document.getElementById("replay-card").replaceChildren(Object.assign(document.createElement("p"), { className: "problem", textContent: _("This card could not be fetched. Step again.") }));
  }
}

function play(on) {
  clearInterval(playing);
  playing = on ? setInterval(() => (seq < last ? go(seq + 1) : play(false)), PLAY_MS) : null;
  const button = document.querySelector('[data-step="play"]');
  button.setAttribute("aria-pressed", String(on));
  button.textContent = on ? _("Pause") : _("Play");
}

const STEPS = { first: () => go(1), last: () => go(last), play: () => play(!playing), "-1": () => go(seq - 1), 1: () => go(seq + 1) };
const KEYS = { ArrowLeft: "-1", ArrowUp: "-1", ArrowRight: "1", ArrowDown: "1", Home: "first", End: "last" };

document.addEventListener("click", (event) => {
  const step = event.target.closest("[data-step]")?.dataset.step;
  const line = event.target.closest("#journal li, .took-what a");
  if (step) STEPS[step]();
  else if (line) {
    event.preventDefault();
    go(Number(line.dataset.seq ?? new URL(line.href).searchParams.get("seq")));
  }
});
document.addEventListener("keydown", (event) => {
  if (event.target.matches("textarea, input:not(#slider), select") || event.ctrlKey || event.altKey || event.metaKey) return;
  const step = KEYS[event.key];
  if (!step) return;
  event.preventDefault();
  STEPS[step]();
});
document.getElementById("slider").addEventListener("input", (event) => go(Number(event.target.value)));

const form = document.getElementById("review");
form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  form.dataset.entry ||= newId();
  const body = { id: form.dataset.entry, text: form.elements.text.value.trim(), outcome: form.elements.outcome.value };
  const problem = form.querySelector(".problem");
  const answer = await call("POST", `/api/v1/cases/${replay.dataset.case}/reviews/`, body).catch(() => null);
  problem.hidden = Boolean(answer?.ok);
  if (answer?.ok) location.assign(`?seq=${answer.content.seq ?? seq}`);
  else problem.textContent = answer ? sentence(answer.content, answer.status) : _("Not sent: offline. What you wrote is kept; press again.");
});

freeze(lineOf(seq));
mark(lineOf(seq));
