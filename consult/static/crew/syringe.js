/* The syringe in hand at its size: from which mark to which to push. A volume that it does not read is drawn over into the
   smaller one that the check names; a dose from a vial is drawn up into it. */

import { _ } from "../core/words.js";

const SVG = "http://www.w3.org/2000/svg";
const LEFT = 76, WIDTH = 240, TOP = 22, HEIGHT = 30, VIEW = 400;

const exact = (value) => Math.round(value * 1e6) / 1e6;
const onMark = (volume, reads) => !reads || Math.abs(volume / reads - Math.round(volume / reads)) < 1e-6;

/* What to draw for a volume (mL): size, marks from and to, and the words; null where there is nothing to draw. `inHand` is
   {size, reads, left, whole} or null, `named` the syringe of the check or null. */
function pushOf(volume, inHand, named) {
  if (!volume) return null;
  if (inHand && volume > inHand.left) return { short: true, words: _("Only {left} mL is left in the {size} mL syringe in hand", { left: inHand.left, size: inHand.size }) };
  if (inHand && onMark(volume, inHand.reads)) {
    const [from, to] = [inHand.left, exact(inHand.left - volume)];
    const begun = inHand.whole > inHand.left; // by the doses so far: nobody recorded which one they were drawn from
    const words = begun
      ? _("{size} mL syringe begun before: push {volume} mL, from {from} to {to}. A new one: from {whole}", { size: inHand.size, volume, from, to, whole: inHand.whole })
      : _("{size} mL syringe in hand: push {volume} mL, from {from} to {to}", { size: inHand.size, volume, from, to });
    return { size: inHand.size, from, to, words };
  }
  if (!named) return null;
  const over = inHand ? _(", transferred from the {size} mL one, which is marked every {reads} mL", { size: inHand.size, reads: inHand.reads }) : "";
  return { size: named, from: volume, to: 0, words: _("{named} mL syringe: draw up to {volume} mL{over}", { named, volume, over }) };
}

function add(svg, name, attributes, text) {
  const shape = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) shape.setAttribute(key, value);
  if (text !== undefined) shape.textContent = text;
  svg.append(shape);
}

/* One edge of what is pushed: a line across the barrel with its number above, on the side where there is room. */
function edge(svg, x, word, anchor) {
  add(svg, "path", { class: "sy-edge", d: `M${x} ${TOP - 6}V${TOP + HEIGHT}` });
  add(svg, "text", { class: "sy-word", x: x + (anchor === "start" ? 3 : -3), y: TOP - 7, "text-anchor": anchor }, word);
}

function paint(svg, { size, from, to }) {
  const at = (ml) => LEFT + (ml / size) * WIDTH;
  const middle = TOP + HEIGHT / 2;
  add(svg, "path", { class: "sy-rod", d: `M${at(from)} ${middle - 7}H${LEFT + WIDTH + 34}M${LEFT + WIDTH + 34} ${TOP}v${HEIGHT}M${at(from)} ${middle + 7}H${LEFT + WIDTH + 34}M${LEFT} ${middle - 5}H${LEFT - 16}v10h16M${LEFT - 16} ${middle}H${LEFT - 46}` });
  add(svg, "rect", { class: "sy-barrel", x: LEFT, y: TOP, width: WIDTH, height: HEIGHT, rx: 3 });
  add(svg, "rect", { class: "sy-fill", x: LEFT, y: TOP + 2, width: at(to) - LEFT, height: HEIGHT - 4 });
  add(svg, "rect", { class: "sy-push", x: at(to), y: TOP + 2, width: at(from) - at(to), height: HEIGHT - 4 });
  for (let n = 0; n <= 10; n += 1) add(svg, "path", { class: "sy-line", d: `M${at((n * size) / 10)} ${TOP + HEIGHT}v${n % 5 ? 6 : 9}` });
  for (const n of [0, 5, 10]) add(svg, "text", { x: at((n * size) / 10), y: TOP + HEIGHT + 23, "text-anchor": "middle" }, String(exact((n * size) / 10)));
  if (to) edge(svg, at(to), _("to {to}", { to }), "end");
  edge(svg, at(from), to ? _("from {from}", { from }) : `${from} mL`, "start");
  const box = svg.getBBox(); // in a wide font the number at the right reaches further: it is never cut
  svg.setAttribute("viewBox", `0 0 ${Math.max(VIEW, Math.ceil(box.x + box.width + 2))} 84`);
}

/* Draw it, or hide the drawing; returns what was drawn. */
export function drawSyringe(svg, volume, inHand, named) {
  if (!svg) return null;
  const push = pushOf(volume?.value, inHand, named?.value);
  svg.toggleAttribute("hidden", !push || Boolean(push.short));
  svg.replaceChildren();
  const words = document.getElementById("syringe-words");
  words.textContent = push?.words ?? "";
  words.hidden = !push;
  if (!push || push.short) return push;
  svg.setAttribute("aria-label", push.words);
  paint(svg, push);
  return push;
}
