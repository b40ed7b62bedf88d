/* One digit too many: after a complete number the next field follows by itself, and the digit would become the first of its
   number, so that all that is typed after it stands in a wrong place. Nothing is dropped, for nobody can tell it from a quick
   thumb; but where the digits make whole numbers without it, it is asked. */

import { _ } from "../core/words.js";

/* Whether the number is complete: with one more digit it could not be. */
export const complete = (text, most) => Number(text) * 10 > most;

/* The numbers that these digits make of fields of these maxima, one after the other, the last perhaps "". */
function numbersOf(digits, most) {
  const numbers = [""];
  for (const digit of digits) {
    numbers[numbers.length - 1] += digit;
    if (complete(numbers.at(-1), most[numbers.length - 1]) && numbers.length < most.length) numbers.push("");
  }
  return numbers;
}

/* Whether the last of these numbers is whole. */
const ends = (numbers, most) => numbers.at(-1) === "" || complete(numbers.at(-1), most[numbers.length - 1]);

/* Whether one of these digits was perhaps pressed once too often: without it, too, they make whole numbers. Only the first
   digit of a field that followed by itself can be one: the same as the one before it, or any where the last number is not
   whole. */
export function hasSurplus(digits, most) {
  const numbers = numbersOf(digits, most);
  const isWhole = ends(numbers, most);
  let at = 0;
  return numbers.slice(0, -1).some((number) => {
    at += number.length;
    const isOne = at < digits.length && (digits[at] === digits[at - 1] || !isWhole);
    return isOne && ends(numbersOf(digits.slice(0, at) + digits.slice(at + 1), most), most);
  });
}

/* The digits that the keys typed into one field and those that followed it by themselves. */
export class Run {
  #digits = "";
  #fields = [];

  get #most() {
    return this.#fields.map(({ dataset }) => Number(dataset.most));
  }

  /* Whether the fields still hold what was typed so. */
  get #stands() {
    const numbers = numbersOf(this.#digits, this.#most);
    return this.#fields.every(({ value }, at) => value === (numbers[at] ?? ""));
  }

  /* A digit more, before it stands in the first of these fields; the others are empty, and may follow. */
  add(digit, fields) {
    const at = this.#fields[numbersOf(this.#digits, this.#most).length - 1];
    if (at !== fields[0] || !this.#stands) [this.#digits, this.#fields] = [fields[0].value, fields];
    this.#digits += digit;
  }

  /* What is asked before the numbers are sent; "" where they are well. */
  get question() {
    return this.#stands && hasSurplus(this.#digits, this.#most) ? _("A digit too many? Look at each number.") : "";
  }
}
