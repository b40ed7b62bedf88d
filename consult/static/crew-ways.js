/* How a push is made ready: a syringe in hand whose label was read, a prefilled one, or a recipe step by step. One is enough. */

const steps = (way) => [...way.querySelectorAll("input")];

/* Whether one of the form's ways is ticked to its end; where there is none to tick, nothing is to be made ready. */
export function prepared(form) {
  const ways = [...form.querySelectorAll(".recipe")];
  return !ways.length || ways.some((way) => steps(way).every((step) => step.checked));
}

/* What is to be ticked yet, as the main button says it. */
export function tickText(form) {
  const ways = [...form.querySelectorAll(".recipe")];
  const syringes = ways.filter((way) => steps(way).length === 1);
  if (syringes.length > 1) return "Tick which syringe";
  if (syringes.length) return ways.some((way) => "held" in way.dataset) ? "Tick the syringe in hand" : "Tick the syringe or each step";
  return ways.length > 1 ? "Tick each step of one way" : "Tick each step";
}
