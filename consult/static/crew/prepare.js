/* How a push is made ready: a syringe in hand whose label was read, a prefilled one, a recipe step by step. One of these ways
   is enough, and only one is checked off. */

import { _ } from "../core/words.js";

const waysOf = (form) => [...form.querySelectorAll(".recipe")];
const steps = (way) => [...way.querySelectorAll("input")];
const isDone = (way) => steps(way).every((step) => step.checked);

/* Whether one of the form's ways is checked off to its end; where there is none, nothing is to be made ready. */
export function prepared(form) {
  const ways = waysOf(form);
  return !ways.length || ways.some(isDone);
}

/* Whether a new one is mixed for this dose. */
export const mixed = (form) => waysOf(form).some((way) => steps(way).length > 1 && isDone(way));

/* What is to be checked off yet, as the main button says it. */
export function tickText(form) {
  const ways = waysOf(form);
  const syringes = ways.filter((way) => steps(way).length === 1);
  if (syringes.length > 1) return _("Check off which syringe");
  if (syringes.length) return ways.some((way) => "held" in way.dataset) ? _("Check off the syringe in hand") : _("Check off the syringe or each step");
  return ways.length > 1 ? _("Check off each step of one way") : _("Check off each step");
}

/* Whoever checks off a step of one way leaves the others: a dose comes from one syringe. */
export function startWays(form) {
  form.addEventListener("change", ({ target }) => {
    const chosen = target.name === "step" && target.checked && target.closest(".recipe");
    if (!chosen) return;
    for (const way of waysOf(form)) if (way !== chosen) for (const step of steps(way)) step.checked = false;
  });
}
