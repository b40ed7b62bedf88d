// Puts what the server drew anew in place of the old, part by part (`data-part`), so that focus and open folds survive.

const sent = new WeakMap(); // of each part, how the server sent it

/** Elements from HTML text of our own server. */
export const parse = (html) => new DOMParser().parseFromString(html, "text/html").body;

/** Note how the server sent the parts under an element; to be called before anything changes them. */
export function remember(root) {
  for (const part of root.querySelectorAll("[data-part]")) note(part);
}

/** Note how the server sent one part. */
export const note = (part) => sent.set(part, part.outerHTML);

/** Whether a part stands as the server sent `fresh`. */
export const same = (part, fresh) => sent.get(part) === fresh.outerHTML;

/** Put a part in the place of another, as the server sent it. */
export function put(known, part) {
  note(part);
  if (known.open) part.open = true;
  for (const { dataset } of known.querySelectorAll("details[open][data-key]")) part.querySelector(`details[data-key="${CSS.escape(dataset.key)}"]`)?.setAttribute("open", "");
  const [focus, seen] = [focusKey(known), Boolean(known.querySelector(":focus-visible"))];
  known.replaceWith(part);
  if (focus) take(part, focus, seen);
}

/** Give the focus to the control again; where nothing is left to press, whoever works by keyboard stays at the part. */
function take(part, focus, seen) {
  const control = part.querySelector(focus) || part.querySelector("button, a, input, summary");
  if (!control && seen) part.tabIndex = -1;
  (control || part).focus({ preventScroll: true });
}

/** A selector that finds the focused control again in the renewed part, or null when the focus is elsewhere. */
function focusKey(part) {
  const active = document.activeElement;
  if (!part.contains(active)) return null;
  const key = ["data-act", "data-form", "data-url", "name", "href"]
    .filter((name) => active.hasAttribute(name))
    .map((name) => `[${name}="${CSS.escape(active.getAttribute(name))}"]`);
  return active.tagName.toLowerCase() + key.join("");
}
