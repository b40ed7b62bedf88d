/* What a form still lacks: words for its main button, and the field to which a press of that leads. */

export const field = (name) => `[name="${name}"]:enabled:not([type="hidden"])`;

/* Whether one of the controls of this name is chosen or filled. */
export const given = (form, name) => [...form.elements].some((each) => each.name === name && each.value.trim() && (!["radio", "checkbox"].includes(each.type) || each.checked));

/* The first of these fields that is empty, each with its words; null where all are filled. */
export function lacks(form, asked) {
  const name = Object.keys(asked).find((each) => !given(form, each));
  return name ? { words: asked[name], at: field(name) } : null;
}

/* Bring into sight what is missing, and begin there: opens what it is folded into, but chooses no group of drugs. */
export function leadTo(form, { words, at }) {
  const control = typeof at === "string" ? form.querySelector(at) : at;
  if (!control) return;
  const shut = control.closest("details[name]:not([open])");
  if (!shut) for (let each = control.closest("details"); each; each = each.parentElement.closest("details")) each.open = true;
  const place = shut?.parentElement ?? control.closest(".choice, .box, .field, .recipe label") ?? control;
  place.dataset.missing = words;
  place.scrollIntoView({ block: "center" });
  (shut?.querySelector("summary") ?? control).focus({ preventScroll: true });
}

/* What was marked is no more once it is not what is missing. */
export function unmark(form, words) {
  for (const each of form.querySelectorAll("[data-missing]")) if (each.dataset.missing !== words) delete each.dataset.missing;
}
