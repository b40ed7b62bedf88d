// How many HIGH alerts nobody has acknowledged, and which have climbed to whoever looks: in the strip of every page.

import { hereText } from "./zone.js";

/** What of a card the strip tells: its unacknowledged HIGH alerts, and those that were escalated to this role. */
export function toldOf(card, role) {
  const raised = (card.alerts ?? []).filter((alert) => !alert.acknowledged && !alert.cleared_at);
  const mine = role === "supervisor" ? ["supervisor"] : ["physicians", "supervisor"];
  const whom = [card.unit.call_sign, card.patient?.label].filter(Boolean).join(" ");
  return {
    high: raised.filter(({ priority }) => priority === "high").length,
    climbed: raised.filter((alert) => mine.includes(alert.escalated_to)).map(({ priority, text }) => ({ case: card.case, priority, text: `${whom}: ${hereText(text)}` })),
  };
}

/** Write the count of HIGH alerts into the strip. */
export function showHigh(count) {
  const place = document.getElementById("count-high");
  place.hidden = !count;
  place.querySelector("b").textContent = String(count);
}

/** Name the alerts that have climbed, each a way to its case; a screen reader hears each new one. */
export function showClimbed(list) {
  const place = document.getElementById("climbed");
  const said = list.map(({ text }) => text).join();
  if (place.dataset.said === said) return;
  place.dataset.said = said;
  place.hidden = !list.length;
  place.replaceChildren(...list.map(({ case: id, priority, text }) => {
    const link = Object.assign(document.createElement("a"), { href: `/cases/${id}/`, textContent: `${priority === "high" ? "HIGH, " : ""}escalated to you: ${text}` });
    link.dataset.priority = priority;
    return link;
  }));
}
