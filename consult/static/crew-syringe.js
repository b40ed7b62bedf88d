/* The syringe that the check names, with the volume to push marked on its scale, in ink: where to start from is read on
   the real one. */

const SVG = "http://www.w3.org/2000/svg";
const LEFT = 46, WIDTH = 270;

function add(svg, name, attributes, text) {
  const shape = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) shape.setAttribute(key, value);
  if (text !== undefined) shape.textContent = text;
  svg.append(shape);
}

export function drawSyringe(svg, volume, syringe) {
  if (!svg) return;
  svg.toggleAttribute("hidden", !volume || !syringe);
  if (!volume || !syringe) return;
  svg.replaceChildren();
  const size = syringe.value;
  const at = (ml) => LEFT + (ml / size) * WIDTH;
  svg.setAttribute("aria-label", `Syringe of ${size} mL: push ${volume.value} mL, from any full mark to ${volume.value} mL less`);
  add(svg, "path", { class: "sy-rod", d: "M316 14H352M352 6v32M316 30H352M46 18H30v8h16M30 22H8" });
  add(svg, "rect", { class: "sy-barrel", x: LEFT, y: 6, width: WIDTH, height: 32, rx: 3 });
  add(svg, "rect", { class: "sy-push", x: at(size - volume.value), y: 8, width: at(volume.value) - LEFT, height: 28 });
  for (let n = 0; n <= 10; n += 1) add(svg, "path", { class: "sy-line", d: `M${at((n * size) / 10)} 38v${n % 5 ? 6 : 9}` });
  for (const n of [0, 5, 10]) add(svg, "text", { x: at((n * size) / 10), y: 60, "text-anchor": "middle" }, String((n * size) / 10));
}
