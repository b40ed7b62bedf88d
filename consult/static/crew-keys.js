/* The number keys: they type into the field that was last touched, so that gloves need no keyboard of the phone. A form that
   begins anew begins at its first field. */

export function startKeys(root = document) {
  const keys = root.querySelector(".keys");
  if (!keys) return;
  const fields = () => [...root.querySelectorAll(".box input")].filter((field) => !field.disabled && field.offsetParent);
  let active = null;
  root.addEventListener("focusin", (event) => { if (event.target.matches(".box input")) active = event.target; });
  root.addEventListener("reset", () => setTimeout(() => { // by then the form stands as it will be typed into
    [active] = fields();
    active?.focus({ preventScroll: true });
    active?.closest(".box").scrollIntoView({ block: "nearest" });
  }));
  keys.addEventListener("pointerdown", (event) => event.preventDefault()); // the field keeps its focus
  keys.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]")?.dataset.key;
    if (!key) return;
    if (!active || !fields().includes(active)) active = fields()[0];
    if (!active) return;
    if (key === "next") active = fields()[(fields().indexOf(active) + 1) % fields().length];
    else active.value = key === "erase" ? active.value.slice(0, -1) : (active.value + key).slice(0, active.maxLength);
    active.focus({ preventScroll: true });
    active.closest(".box").scrollIntoView({ block: "nearest" }); // between what stands above and the keys
    active.dispatchEvent(new Event("input", { bubbles: true }));
  });
  root.addEventListener("beforeinput", (event) => {
    if (event.target.matches(".box input") && event.data && /[^0-9.,]/.test(event.data)) event.preventDefault();
  });
}
