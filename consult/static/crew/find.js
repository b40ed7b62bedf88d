/* A drug is found by a part of its name: what does not hold it goes out of sight, in whatever group it stands. */

const plain = (text) => text.toLowerCase().replace(/\s+/g, " ").trim();

function show(field) {
  const wanted = plain(field.value);
  let found = 0;
  for (const group of document.querySelectorAll(".groups > *")) {
    const rows = [...group.querySelectorAll(".rows > li")];
    for (const row of rows) row.hidden = !plain(row.querySelector("b").textContent).includes(wanted);
    const left = rows.filter((row) => !row.hidden).length;
    group.hidden = !left;
    unfold(group, Boolean(wanted));
    found += left;
  }
  document.getElementById("found-none").hidden = found > 0;
}

/* Folded groups are open while something is sought, and after that as they were. */
function unfold(group, isSought) {
  if (!group.matches("details") || isSought === "was" in group.dataset) return;
  if (isSought) group.dataset.was = group.open ? "open" : "";
  group.open = isSought || group.dataset.was === "open";
  if (!isSought) delete group.dataset.was;
}

/** Let the field narrow the list, also after the list was drawn anew. */
export function startFind() {
  const field = document.getElementById("find");
  if (!field) return;
  document.getElementById("finder").hidden = false;
  field.addEventListener("input", () => show(field));
  document.addEventListener("parts", () => show(field));
}
