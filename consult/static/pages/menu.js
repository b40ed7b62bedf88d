// The account menu closes with Escape and with a press outside.

const menu = document.querySelector("details.menu");

document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape" || !menu.open) return;
  menu.open = false;
  menu.querySelector("summary").focus();
});
document.addEventListener("pointerdown", (event) => {
  if (!menu.contains(event.target)) menu.open = false;
});
