// Folded parts of a long page: a link to one opens it, a button opens or closes all, and paper gets them all.

function unfold() {
  const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  const fold = target?.closest("details");
  if (!fold) return;
  fold.open = true;
  target.scrollIntoView();
}

function setAll(open) {
  for (const fold of document.querySelectorAll("details.fold")) fold.open = open;
}

addEventListener("hashchange", unfold);
addEventListener("beforeprint", () => setAll(true));
for (const button of document.querySelectorAll("[data-folds]")) button.addEventListener("click", () => setAll(button.dataset.folds === "open"));
unfold();
