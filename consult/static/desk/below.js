// Who needs somebody and is not, or not whole, on the screen: a line above the foot names them, a press brings the first up.

import { _ } from "../core/words.js";

const NAMED = 3;
const CUT = 12; // px of a card below the screen that hide nothing

/** Keep `cue` true for the cards under `board` while one scrolls; answers what to call when they have changed. */
export function startBelow(board, cue) {
  const below = () => {
    const end = innerHeight - parseFloat(getComputedStyle(cue).bottom) + CUT; // above the foot, where the cue stands
    return [...board.querySelectorAll(":scope > .card[data-needs]:not([hidden])")].filter((card) => card.getBoundingClientRect().bottom > end);
  };
  const show = () => {
    const cards = below();
    const names = cards.slice(0, NAMED).map((card) => card.dataset.call).join(", ");
    cue.hidden = cards.length === 0;
    cue.textContent = cards.length > NAMED ? _("Need you further down: {names} and {count} more", { names, count: cards.length - NAMED }) : _("Need you further down: {names}", { names });
  };
  let asked = 0;
  const soon = () => {
    cancelAnimationFrame(asked);
    asked = requestAnimationFrame(show);
  };
  cue.addEventListener("click", () => below()[0]?.scrollIntoView({ block: "nearest" }));
  addEventListener("scroll", soon, { passive: true });
  new ResizeObserver(soon).observe(board);
  return soon;
}
