// Which drug of the rules a name in words of one's own means, as the server finds it: whole words, the longest name first.

import { _ } from "./words.js";

const TAKEN = " | "; // stands for what was found, so that no shorter name is found within it

/* A text as small words between blanks, once with its digits and once without. */
function spoken(told) {
  const plain = told.normalize("NFKD").toLowerCase().replace(/\p{M}/gu, "");
  return [/[a-z0-9]+/g, /[a-z]+/g].map((kind) => ` ${(plain.match(kind) ?? []).join(" ")} `).join(TAKEN);
}

/* "one, two or three" */
const either = (names) => (names.length > 1 ? _("{names} or {at}", { names: names.slice(0, -1).join(", "), at: names.at(-1) }) : names[0]);

/** {drugs, treatments, text} of the drugs that a text names, by what the page was told of them; null where it names none. */
export function named(told, { names, drugs }) {
  let words = spoken(told);
  const found = new Map();
  for (const [name, written, ofDrugs] of names) {
    if (!words.includes(name)) continue;
    words = words.replaceAll(name, TAKEN);
    for (const drug of ofDrugs) if (!found.has(drug)) found.set(drug, written);
  }
  if (!found.size) return null;
  const shown = either([...found.keys()].map((drug) => drugs[drug].shown));
  const [[first, written]] = found;
  const own = written.toLowerCase() === first.toLowerCase();
  const treatments = Object.keys(drugs).filter((drug) => found.has(drug)).flatMap((drug) => drugs[drug].treatments);
  return { drugs: [...found.keys()], treatments, text: own ? _("{shown} is in the rules", { shown }) : _("“{written}” is {shown}, which is in the rules", { written, shown }) };
}

let known = null; // what the page was told, read once

/** The same by what the page itself was told, in its script `listed`. */
export function listedAs(told) {
  known ??= JSON.parse(document.getElementById("listed").textContent);
  return named(told, known);
}
