// Forms read as the API's content, and what the API refused of them.

const READ = {
  number: (text) => Number(text.replace(",", ".")),
  flag: (text) => text === "true",
  words: (text) => text.split(",").map((word) => word.trim()).filter(Boolean),
  amount: amountOf,
  target: (text) => ({ kind: text.split(" ")[0], id: text.split(" ")[1] }),
  minutes: (text) => new Date(Date.now() + Number(text) * 60000).toISOString(),
  text: (text) => text.trim(),
};

/** A choice's value as an amount: "10 mcg" is {value: 10, unit: "mcg"}. */
export function amountOf(key) {
  const [value, unit] = key.split(" ");
  return { value: Number(value), unit };
}

/** Whether a control counts: named, able, in sight, chosen where it is one to choose. */
const usable = (control) => control.name && !control.disabled && !control.closest("[hidden]") && control.dataset.type !== "skip"
  && (!["radio", "checkbox"].includes(control.type) || control.checked);

/** Set a value in a structure; dots in the path are levels, `several` adds it to a list. */
export function put(data, path, value, several = false) {
  const names = path.split(".");
  const last = names.pop();
  const at = names.reduce((inner, name) => (inner[name] ??= {}), data);
  if (several) (at[last] ??= []).push(value);
  else at[last] = value;
}

/** The filled controls of a form as the API's content: `data-type` says how a text is read, `data-with` names the control
 * without which one does not count; several ticked boxes of one name are a list. */
export function collect(form) {
  const data = {};
  for (const control of form.elements) {
    if (!usable(control) || !control.value.trim()) continue;
    if (control.dataset.with && !form.elements[control.dataset.with].value) continue;
    put(data, control.name, READ[control.dataset.type ?? "text"](control.value), control.type === "checkbox" && control.dataset.type !== "flag");
  }
  return data;
}

/** The rates of steps that were typed, each in its own unit, else in the one that was chosen for them all. */
export function stepsIn(titrate, unit) {
  for (const name of ["step", "most", "call_at"]) if (titrate[name]) titrate[name].unit ??= unit;
  return titrate;
}

/** Whether a number field holds one that the server takes; its bounds stand at the field. */
export function readable({ value, dataset }) {
  const number = READ.number(value);
  return Number.isFinite(number) && number >= Number(dataset.least ?? -Infinity) && number <= Number(dataset.most ?? Infinity);
}

/** The first number field that holds letters, or a number that cannot be. */
export const unreadable = (form) => [...form.elements].find((control) =>
  usable(control) && ["number", "minutes"].includes(control.dataset.type) && control.value.trim() && !readable(control));

const fieldAt = (form, pointer) => form.elements.namedItem(pointer.slice(1).replaceAll("/", "."));

/** What stands over the field that a problem document names; an empty text where the form has none. */
export const fieldName = (form, pointer) => fieldAt(form, pointer ?? "")?.closest?.("label")?.querySelector("span")?.textContent.trim() ?? "";

/** Mark the fields that a problem document names. */
export function markRefused(form, problem) {
  for (const field of form.elements) field.removeAttribute("aria-invalid");
  for (const { pointer } of problem?.errors ?? []) fieldAt(form, pointer)?.setAttribute?.("aria-invalid", "true");
}
