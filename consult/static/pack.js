// Packs the cards of the board: none is stretched to its neighbour's height. The first row holds what needs a person first,
// and each further card goes where the page is free the highest, so that those further up the order stand further up.

import { shifted } from "./press.js";
import { afterwards, keepsStill } from "./still.js";

const ROW = 4; // px, as in board.css

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
    if (before.size) afterwards(this.board, () => this.pack());
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
