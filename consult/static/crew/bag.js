/* The bag that a further dose of a fluid would be drawn from: what it holds yet, and whether another one must be hung. */

import { _ } from "../core/words.js";
import { amountText, inUnit } from "../core/amounts.js";

/* Whether the bag, with so many mL left, does not hold this amount; null: none was hung. */
export const isShort = (left, amount) => left !== null && (!left || (amount !== null && inUnit(amount, "mL") > left));

export function showBag(left, amount) {
  const place = document.getElementById("bag-left");
  if (!place) return;
  place.hidden = left === null;
  const told = left ? _("{left} left in the bag that hangs", { left: amountText({ value: left, unit: "mL" }) }) : _("The bag that hung is empty");
  place.textContent = isShort(left, amount) ? _("{told}: enter the new bag", { told }) : told;
}
