/* A measurement that some meters show in another unit. The field says in which it is read, a button changes that; what was
   typed stays as it is, and is then read in the other unit. A set that begins anew begins in the unit of the page. */

import { _ } from "../core/words.js";

/* Read the field in a unit `is`, while the button offers the `other`. */
function readIn(field, button, is, other) {
  const { label } = button.dataset;
  field.name = is.name;
  Object.assign(field.dataset, { least: is.least, most: is.most, otherUnit: other.unit, otherLeast: other.least, otherMost: other.most });
  field.setAttribute("aria-label", `${label} ${is.unit}`);
  field.nextElementSibling.textContent = is.unit;
  button.textContent = _("{measure} in {unit}", { measure: label, unit: other.unit });
}

export function startOtherUnits(form) {
  for (const button of form.querySelectorAll("[data-in-other-unit]")) {
    const field = form.elements[button.dataset.inOtherUnit];
    const { least, most } = field.dataset;
    const own = { name: field.name, unit: field.nextElementSibling.textContent, least, most };
    const other = { name: button.dataset.name, unit: button.dataset.unit, least: button.dataset.least, most: button.dataset.most };
    button.dataset.label = field.previousElementSibling.textContent;
    readIn(field, button, own, other);
    button.addEventListener("click", () => {
      if (field.name === own.name) readIn(field, button, other, own);
      else readIn(field, button, own, other);
      field.focus();
      field.dispatchEvent(new Event("input", { bubbles: true }));
    });
    form.addEventListener("reset", () => readIn(field, button, own, other));
  }
}
