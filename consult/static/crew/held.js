/* What is left of what is in hand, less the doses of this phone that the page was not told: as the drawing of a push has it. */

import { _ } from "../core/words.js";
import { amountText } from "../core/amounts.js";

const exact = (value) => Math.round(value * 1e6) / 1e6; // 0.3 − 0.1 is 0.2

/* How many doses like the last one are left, as `in_hand.doses_text` says it. */
function dosesText(left, { data, volume }) {
  const count = Math.floor(exact(left / volume));
  const each = amountText(data.amount);
  if (!count) return _("less than one dose of {dose}", { dose: each });
  return count === 1 ? _("{span} dose of {each}", { span: count, each }) : _("{span} doses of {each}", { span: count, each });
}

/* The doses that were drawn from this one: where none is named, from the one of the treatment that stands last. */
function drawnFrom({ leftOf, treatment }, news) {
  const alike = [...document.querySelectorAll(`[data-left-of][data-treatment="${treatment}"]`)];
  const isLast = alike.at(-1)?.dataset.leftOf === leftOf || alike.length === 1;
  return news.filter(({ kind, volume, data }) => kind === "intervention" && volume && !data.prior
    && data.treatment === treatment && (data.container ? data.container === leftOf : isLast));
}

export function showHeld(news) {
  for (const place of document.querySelectorAll("[data-left-of]")) {
    const told = place.dataset.told ??= place.textContent;
    const drawn = drawnFrom(place.dataset, news);
    const left = Math.max(0, exact(drawn.reduce((sum, { volume }) => sum - volume, Number(place.dataset.ml))));
    const counted = place.hasAttribute("data-doses") && left && drawn.length ? `: ${dosesText(left, drawn.at(-1))}` : "";
    const text = left ? _("{shown} left", { shown: amountText({ value: left, unit: "mL" }) }) : _("empty");
    place.textContent = drawn.length ? `${text}${counted}${_(" · this phone")}` : told;
  }
}
