// Folded parts of a long page: a link to one opens it, and paper gets them all.

function unfold() {
  const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  const fold = target?.closest("details");
  if (!fold) return;
  fold.open = true;
  fold.scrollIntoView();
}

addEventListener("hashchange", unfold);
addEventListener("beforeprint", () => {
  for (const fold of document.querySelectorAll("details.fold")) fold.open = true;
});
unfold();
