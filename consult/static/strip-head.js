// The head of a page stays in sight; on a small screen only what warns of it, once the page is scrolled.

const FOLDS_AT = 200; // px; what folds away is less high than the way back to where it unfolds
const UNFOLDS_AT = 40;

/** Fold the head while the page is scrolled; the style sheet says of what, and on which screens. */
export function startHead() {
  const head = document.getElementById("head");
  const fold = () => {
    if (scrollY > FOLDS_AT) head.dataset.scrolled = "";
    else if (scrollY < UNFOLDS_AT) delete head.dataset.scrolled;
  };
  addEventListener("scroll", fold, { passive: true });
  fold();
}
