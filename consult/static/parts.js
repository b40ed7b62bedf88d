// Puts newly rendered HTML in place of the old, part by part, so that focus and open forms survive.

import { shifted } from "./press.js";
import { afterwards, heightOf, keepAlarms, keepsStill, nothingAfterwards } from "./still.js";

const sent = new WeakMap();
const parts = (container) => [...container.children].filter((child) => child.dataset.part);

/** Elements from HTML text of our own server. */
export function parse(html) {
  return new DOMParser().parseFromString(html, "text/html").body;
}

/** Note how the server sent the parts under an element; to be called before anything changes them. */
export function remember(root) {
  for (const part of root.querySelectorAll("[data-part]")) sent.set(part, part.outerHTML);
}

/** Whether a part is being worked on: an open form, or a request on its way. */
export const busy = (part) => part.matches("[data-busy]") || Boolean(part.querySelector("form:not([hidden]), [data-busy]"));

/** Whether somebody types into a part; what is being sent is not typed into any more: the change may well be its own. */
const typedInto = (part) => Boolean(part.querySelector("form:not([hidden], [data-busy])"));

/** Make `container` show what `fresh` holds; parts that are equal, or worked on in the same version, stay untouched.
 * Parts that were worked on but are gone stay too and are handed to `onGone`, those that changed to `onChange` with the new.
 * Under a pointer parts keep place and height; once it has left they show what stands, and `onShown` is told. */
export function swap(container, fresh, how) {
  const still = keepsStill(container);
  if (still) waitFor(container, fresh.cloneNode(true), how);
  else nothingAfterwards(container);
  if (still) keepAlarms(container, fresh);
  copyAttributes(container, fresh);
  const old = new Map(parts(container).map((part) => [part.dataset.part, part]));
  let before = null;
  for (const part of parts(fresh)) {
    const known = old.get(part.dataset.part);
    old.delete(part.dataset.part);
    before = known ? renew(known, part, how.onChange, still) : insert(container, part, before);
  }
  for (const part of old.values()) part.matches("[data-keep]") && (still || busy(part)) ? how.onGone(part) : part.remove();
  shifted();
}

function waitFor(container, fresh, how) {
  afterwards(container, () => {
    for (const part of parts(container)) part.style.removeProperty("min-height");
    swap(container, fresh, how);
    how.onShown();
  });
}

/** Put a part in the place of another, as the server sent it. */
export function put(known, part) {
  sent.set(part, part.outerHTML);
  known.replaceWith(part);
}

function insert(container, part, before) {
  sent.set(part, part.outerHTML);
  if (before) before.after(part);
  else container.prepend(part);
  return part;
}

function renew(known, part, onChange, still) {
  const html = part.outerHTML;
  if (sent.get(known) === html) return known;
  if (known.matches("[data-keep]") && busy(known)) {
    if (known.dataset.version === part.dataset.version) return known;
    if (typedInto(known)) {
      onChange(known, part);
      return known;
    }
  }
  sent.set(part, html);
  if (known.open) part.open = true;
  for (const { dataset } of known.querySelectorAll("details[open][data-key]")) part.querySelector(`details[data-key="${CSS.escape(dataset.key)}"]`)?.setAttribute("open", "");
  const [focus, seen, height] = [focusKey(known), Boolean(known.querySelector(":focus-visible")), still ? heightOf(known) : 0];
  known.replaceWith(part);
  if (heightOf(part) < height) part.style.minHeight = `${height}px`;
  if (focus) take(part, focus, seen);
  return part;
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

function copyAttributes(to, from) {
  for (const { name } of [...to.attributes]) if (!from.hasAttribute(name) && name !== "data-fresh" && name !== "hidden") to.removeAttribute(name);
  for (const { name, value } of from.attributes) if (to.getAttribute(name) !== value) to.setAttribute(name, value);
}
