// A drug that is ordered as one outside the rules, though they have it: said while its name is typed, with the way to its form.

import { _ } from "../core/words.js";
import { listedAs } from "../core/names.js";

const opener = (slug, title) => {
  const button = Object.assign(document.createElement("button"), { type: "button", className: "btn", textContent: _("Order {title}", { title }) });
  Object.assign(button.dataset, { act: "open", form: "order", treatment: slug });
  return button;
};

function show(form) {
  const [place, found] = [form.querySelector("[data-listed]"), listedAs(form.elements.name.value)];
  const text = found ? _("{found}: order it there, so that its limits are checked.", { found: found.text }) : "";
  form.querySelector("[type='submit']").disabled = Boolean(found);
  if (place.firstChild.textContent === text) return;
  place.hidden = !found;
  place.firstChild.textContent = text;
  place.lastChild.replaceChildren(...(found?.treatments ?? []).map(({ slug, title }) => opener(slug, title)));
}

/** Watch the names that are typed into a form of another drug; a press of what it offers chooses it in the form of orders. */
export function startListed() {
  const formOf = (event) => (event.target.closest?.("form")?.querySelector("[data-listed]") ? event.target.closest("form") : null);
  document.addEventListener("input", (event) => formOf(event) && show(formOf(event)));
  document.addEventListener("reset", (event) => formOf(event) && setTimeout(show, 0, formOf(event)));
  document.addEventListener("click", (event) => {
    const slug = event.target.closest("[data-act='open'][data-treatment]")?.dataset.treatment;
    const select = slug && event.target.closest("[data-part]").querySelector("form[data-name='order']").elements.treatment;
    if (!select) return;
    select.value = slug;
    select.dispatchEvent(new Event("input", { bubbles: true }));
  });
}
