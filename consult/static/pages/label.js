// Labels in true size: a line that is too wide in this font is set smaller, down to what can still be read; a label that
// still does not fit is not printed and says so. Nothing on a label is ever cut off.

import { _ } from "../core/words.js";

const LEAST = 0.75; // of the size in label.css: capitals of the name stay above 2.5 mm (ISO 26825)
const STEP = 0.025;

const tooWide = (line) => line.scrollWidth > line.clientWidth;
const tooHigh = (label) => label.scrollHeight > label.clientHeight || label.scrollWidth > label.clientWidth;

/** Set the lines of a label as large as they fit; whether all of it is inside its edges then. */
function fit(label) {
  const lines = [...label.children];
  for (const line of lines) line.style.fontSize = "";
  for (const line of lines) {
    const size = parseFloat(getComputedStyle(line).fontSize);
    for (let share = 1; tooWide(line) && share > LEAST; share -= STEP) line.style.fontSize = `${size * (share - STEP)}px`;
  }
  return !tooHigh(label) && !lines.some(tooWide);
}

const form = document.querySelector(".labels-form");
const typed = () => new URLSearchParams(new FormData(form)).toString();
const shown = typed();

/** Why the label in sight is not printed: it is not of what is typed; empty where it is. */
function held() {
  const { unread, other } = document.getElementById("held").dataset;
  if (!form.checkValidity()) return unread;
  return typed() === shown ? "" : other;
}

function hold() {
  const place = document.getElementById("held");
  place.textContent = held();
  place.hidden = !place.textContent;
  document.querySelector(".labels-sheet").hidden = document.getElementById("print").disabled = !place.hidden;
  measure();
}

function measure() {
  if (held()) return;
  const labels = [...document.querySelectorAll(".label")];
  for (const label of labels) label.toggleAttribute("data-fits", fit(label));
  document.querySelector(".labels-sheet").setAttribute("data-measured", "");
  const fitting = document.querySelectorAll(".label[data-fits]").length;
  const button = document.getElementById("print");
  const all = fitting === labels.length ? `${fitting}` : _("{fitting} of {length}", { fitting, length: labels.length });
  button.textContent = labels.length === 1 ? _("Print {all} label", { all }) : _("Print {all} labels", { all });
  button.disabled = fitting === 0;
  button.hidden = false;
}

measure();
document.fonts.ready.then(measure);
addEventListener("resize", measure);
addEventListener("beforeprint", measure);
form.addEventListener("input", hold);
document.getElementById("print").addEventListener("click", () => print());
