// Where the cards of the board stand. Their order: by need, but never under a pointer or beside an open form; a cue says that
// a card wants to move up. Their places: none is stretched to its neighbor's height, the first row holds what needs a
// person first, and each further card goes where the page is free the highest.

import { _ } from "../core/words.js";
import { shifted } from "./press.js";
import { afterward, busy, keepsStill } from "./swap.js";

const ROW = 4; // px, as in board.css

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
    this.cue.textContent = _("Move {up} up", { up });
    this.cue.title = up === 1 ? _("1 card wants to move up") : _("{up} cards want to move up", { up });
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

/** Keep the cards under `board` packed; to be called again after their order, number or filter has changed. While one points
 * at the board each card keeps its column and at least its height: none moves up under the pointer. */
export class Packing {
  constructor(board) {
    this.board = board;
    this.watch = new ResizeObserver(() => this.pack());
    this.watch.observe(board);
    this.places = new Map(); // of each card its column and its rows
    board.setAttribute("data-packed", "");
  }

  pack() {
    const style = getComputedStyle(this.board);
    const gap = parseFloat(style.columnGap);
    const least = parseFloat(style.getPropertyValue("--card")) * parseFloat(getComputedStyle(document.documentElement).fontSize);
    const wide = this.board.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
    const columns = Math.max(1, Math.floor((wide + gap) / (least + gap))); // as the style sheet fills the row
    const cards = [...this.board.querySelectorAll(":scope > .card:not([hidden])")];
    const rows = cards.map((card) => Math.ceil((card.getBoundingClientRect().height + gap) / ROW));
    const free = Array(columns).fill(0); // rows that each column holds already
    const before = columns === this.columns && keepsStill(this.board) ? this.places : new Map();
    this.columns = columns;
    this.places = new Map(cards.map((card, place) => [card, this.put(card, rows[place], free, before.get(card))]));
    if (before.size) afterward(this.board, () => this.pack());
  }

  /** Whether so many cards are more than two rows of this width, which is what a screen shows. On a phone all scroll. */
  overflows(count) {
    return this.columns > 1 && count > 2 * this.columns;
  }

  put(card, needs, free, before) {
    this.watch.observe(card);
    const column = before?.column ?? free.indexOf(Math.min(...free));
    const rows = Math.max(needs, before?.rows ?? 0);
    free[column] += rows;
    set(card.style, "grid-column", `${column + 1}`);
    set(card.style, "grid-row-end", `span ${rows}`);
    return { column, rows };
  }
}

function set(style, name, value) {
  if (style.getPropertyValue(name) === value) return;
  style.setProperty(name, value);
  shifted();
}
