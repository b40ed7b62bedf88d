// The change of shift: what is offered and what one has are drawn anew with each change of a case; ticks and words stay.

import { parse } from "../core/parts.js";
import { startClock, tick } from "../core/times.js";
import { _ } from "../core/words.js";
import { send, startActions } from "./actions.js";
import { startWatch } from "./watching.js";

const LISTS = ["offered-to-me", "mine"];
let fetching = false;
let again = false;

/** Fetch the page anew and put its lists in; while one fetch runs, a further wish waits for it. */
async function renew() {
  again = fetching;
  if (fetching) return;
  fetching = true;
  const answer = await fetch(location.href, { cache: "no-store" }).catch(() => null);
  if (answer?.ok && !answer.redirected) show(parse(await answer.text()));
  fetching = false;
  if (again) renew();
}

function show(fresh) {
  for (const id of LISTS) put(document.getElementById(id), fresh.querySelector(`#${id}`));
  for (const id of ["choose", "shift-to"]) document.getElementById(id).hidden = fresh.querySelector(`#${id}`).hidden;
  tellChosen();
  tick();
}

/** One list in the place of another: what was ticked or not stays so, notes and refusals too. */
function put(known, fresh) {
  if (!fresh || known.dataset.sent === fresh.innerHTML) return;
  const ticked = new Map([...known.querySelectorAll("input")].map(({ value, checked }) => [value, checked]));
  const notes = new Map([...known.querySelectorAll("textarea")].map(({ name, value }) => [name, value]));
  const told = new Map([...known.querySelectorAll("[data-part]")].map((part) => [part.dataset.part, part.querySelector(".problem")?.textContent]));
  known.dataset.sent = fresh.innerHTML;
  known.replaceChildren(...fresh.childNodes);
  for (const box of known.querySelectorAll("input")) if (ticked.has(box.value)) box.checked = ticked.get(box.value);
  for (const note of known.querySelectorAll("textarea")) note.value = notes.get(note.name) ?? "";
  for (const part of known.querySelectorAll("[data-part]")) if (told.get(part.dataset.part)) part.querySelector(".problem").textContent = told.get(part.dataset.part);
}

const form = document.getElementById("offer");
const boxes = () => [...form.querySelectorAll("#mine input")];

/** The button says how many cases go, and to whom. */
function tellChosen() {
  const count = boxes().filter(({ checked }) => checked).length;
  const to = form.elements.to.value && form.elements.to.selectedOptions[0].text;
  document.getElementById("offer-them").textContent = wordsFor(count, to);
}

function wordsFor(count, to) {
  if (!count) return _("Choose a case to offer");
  if (!to) return count === 1 ? _("Offer 1 case") : _("Offer {count} cases", { count });
  return count === 1 ? _("Offer 1 case to {to}", { to }) : _("Offer {count} cases to {to}", { count, to });
}

/** Each case is offered with its own note, so that nothing said of one patient stands at another. */
function offer() {
  for (const box of boxes().filter(({ checked }) => checked)) {
    const part = box.closest("[data-case]");
    const note = part.querySelector("textarea");
    const done = () => { box.checked = false; note.value = ""; renew(); };
    send(part, { to: form.elements.to.value, cases: [part.dataset.case], ...(note.value.trim() && { note: note.value.trim() }) }, done);
  }
}

form.addEventListener("change", tellChosen);
form.addEventListener("submit", (event) => { event.preventDefault(); offer(); });
document.getElementById("choose-all").addEventListener("click", () => { for (const box of boxes()) box.checked = true; tellChosen(); });
tellChosen();
startClock();
startActions(() => renew());
startWatch(() => renew());
