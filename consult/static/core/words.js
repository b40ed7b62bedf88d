// What the scripts say, in the language of the installation: a page hands over (`#texts`) what is said instead of which text.

const SAID = JSON.parse(document.getElementById("texts")?.textContent ?? "{}");

/** The text as this installation says it, with the values at its places: `_("sent {time}", { time: "12:04" })`. */
export const _ = (text, values = {}) => (SAID[text] ?? text).replace(/\{(\w+)\}/g, (place, name) => values[name] ?? place);

/** A code of the API as people read it. */
export const words = (code) => _(String(code ?? "").replaceAll("_", " "));
