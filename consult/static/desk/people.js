// Who else looks: which physicians have the board or a case open now, as the server tells it; and how much each has to do.

import { _ } from "../core/words.js";

let people = null; // null: not known
const own = document.body.dataset.membership;

/** Take what the server says of who looks. */
export function takeLooking(message) {
  people = message.people;
  const place = document.getElementById("looking");
  if (place) {
    const names = (people ?? []).map(({ id, name }) => (id === own ? `${name} (you)` : name));
    place.textContent = people ? _("Looking now: {names}", { names: names.join(", ") || _("no physician") }) : _("Who else is looking now is unknown.");
    place.hidden = false;
  }
  showOpenBy(document);
}

/** Write beside each case who else has it open. */
export function showOpenBy(root) {
  for (const place of root.querySelectorAll("[data-open-by]")) {
    const names = (people ?? []).filter(({ id, cases }) => id !== own && cases.includes(place.dataset.openBy)).map(({ name }) => name);
    place.hidden = !names.length;
    place.textContent = names.length ? _("open with {names}", { names: names.join(", ") }) : "";
  }
}

/** Count by physician what the cards of the board ask for; those with the most stand first. */
export function showLoad(cards) {
  const body = document.querySelector("#load tbody");
  if (!body) return;
  const rows = new Map();
  for (const card of cards) {
    const row = rows.get(card.dataset.control) ?? { cases: 0, raised: 0, high: 0, waiting: 0 };
    row.cases += 1;
    row.raised += Number(card.dataset.raised);
    row.high += card.querySelectorAll('.alarm[data-state="raised"][data-priority="high"]').length;
    row.waiting += Number(card.dataset.waiting);
    rows.set(card.dataset.control, row);
  }
  const sorted = [...rows].sort(([, one], [, other]) => other.raised + other.waiting - one.raised - one.waiting || other.cases - one.cases);
  body.replaceChildren(...sorted.map(([name, row]) => {
    const line = document.createElement("tr");
    line.append(Object.assign(document.createElement("td"), { textContent: name || _("No physician") }));
    for (const number of Object.values(row)) line.append(Object.assign(document.createElement("td"), { className: "right num", textContent: number }));
    return line;
  }));
}

/** Put away what was read of what changed while one was away, without leaving the page; where that fails it stays. */
export function startAway() {
  document.addEventListener("submit", async (event) => {
    const form = event.target.closest("form[data-away]");
    if (!form) return;
    event.preventDefault();
    const answer = await fetch(form.action, { method: "POST", body: new FormData(form) }).catch(() => null);
    if (answer?.ok) document.getElementById("away").remove();
    else document.getElementById("announce-now").textContent = _("Not kept: press again");
  });
}
