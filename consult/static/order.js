// The order of the cards: by need, but never under a pointer or beside an open form; a cue says that a card wants to move up.

import { busy } from "./parts.js";
import { shifted } from "./press.js";

/** Sort the cards under `board` by their `data-sort`; while somebody points or types there, only say so on `cue`.
 * `onApply` is told after the order has changed. */
export class CardOrder {
  constructor(board, cue, onApply) {
    this.board = board;
    this.cue = cue;
    this.onApply = onApply;
    cue.addEventListener("click", () => this.apply());
    board.addEventListener("pointerleave", () => this.settle());
    board.addEventListener("focusout", () => setTimeout(() => this.settle()));
  }

  cards() {
    return [...this.board.querySelectorAll(":scope > .card")];
  }

  wanted() {
    return this.cards().sort((one, other) => (one.dataset.sort < other.dataset.sort ? -1 : one.dataset.sort > other.dataset.sort ? 1 : 0));
  }

  held() {
    return this.board.matches(":hover") || this.board.contains(document.activeElement) || this.cards().some((card) => busy(card));
  }

  /** Apply the new order if nobody works on the board, else show the cue. */
  settle() {
    const up = this.movingUp();
    if (up && !this.held()) return this.apply();
    this.cue.hidden = !up;
    this.cue.textContent = `Move ${up} up`;
    this.cue.title = `${up} card${up === 1 ? " wants" : "s want"} to move up`;
  }

  movingUp() {
    const places = new Map(this.cards().map((card, place) => [card, place]));
    return this.wanted().filter((card, place) => place < places.get(card)).length;
  }

  apply() {
    const active = document.activeElement;
    let before = null;
    for (const card of this.wanted()) {
      if (before ? before.nextElementSibling !== card : this.board.firstElementChild !== card) {
        if (before) before.after(card);
        else this.board.prepend(card);
      }
      before = card;
    }
    if (active !== document.activeElement) active?.focus({ preventScroll: true });
    this.cue.hidden = true;
    shifted();
    this.onApply();
  }
}
