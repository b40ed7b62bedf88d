// The strip of a page that shows no cards of cases: connection, count of HIGH alerts, what was escalated, sound.

import { setServerTime } from "../core/clock.js";
import { sound, soundArrests, startSound } from "./sound.js";
import { showClimbed, showHigh, startStrip, toldOf } from "./strip.js";

const cards = new Map();

function take(message) {
  if (message.type === "hello") cards.clear();
  for (const card of message.cases ?? []) cards.set(card.case, card);
  if (message.type === "card") cards.set(message.case, message.card);
  if (message.type === "gone") cards.delete(message.case);
  const told = [...cards.values()].map((card) => toldOf(card, document.body.dataset.role));
  showHigh(told.reduce((sum, { high }) => sum + high, 0));
  showClimbed(told.flatMap(({ climbed }) => climbed));
  if (message.type === "hello" || message.type === "card") soundArrests([...cards.values()].filter(({ phase }) => phase === "arrest").map((card) => card.case));
}

function worst() {
  const raised = [...cards.values()].flatMap((card) => card.alerts).filter((alert) => !alert.acknowledged && !alert.cleared_at);
  return ["high", "medium"].find((priority) => raised.some((alert) => alert.priority === priority)) ?? "";
}

/** Start the strip; `onNews` is told after each message but ticks. */
export function startWatch(onNews = () => {}) {
  setServerTime(document.body.dataset.serverTime);
  startSound(document.getElementById("sound"));
  startStrip("/ws/board/", (message) => {
    take(message);
    onNews();
  });
  setInterval(() => sound(worst()), 1000);
}
