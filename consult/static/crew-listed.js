/* A drug that is entered as one outside the rules, though they have it: said while its name is typed, also without a link. */

export function startListed(form) {
  const place = form.querySelector("[data-listed]");
  if (!place) return;
  const drugs = JSON.parse(document.getElementById("listed").textContent);
  const show = () => {
    const words = ` ${form.elements.name.value.toLowerCase().match(/[a-z]+/g)?.join(" ") ?? ""} `;
    const drug = drugs.find((each) => words.includes(` ${each.toLowerCase()} `));
    place.hidden = !drug;
    place.querySelector("b").textContent = drug ? `${drug} is in the rules: choose it there, so that its limits are checked.` : "";
  };
  form.addEventListener("input", show);
  form.addEventListener("reset", () => setTimeout(show));
  show();
}
