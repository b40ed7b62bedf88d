// The banner of the rule set in force: renewed when a card names another one than the page does.

let asked = "";

/** Compare the rule set of an open case with the page's banner, and fetch the banner anew once where they differ. */
export async function checkRules(rules) {
  const tag = document.getElementById("rules-tag");
  const named = rules && `${rules.digest} ${rules.approved}`;
  if (!named || named === asked || tag.dataset.rules === named) return;
  asked = named;
  const answer = await fetch("/rules/banner/", { cache: "no-store" }).catch(() => null);
  if (!answer?.ok || answer.redirected) return void (asked = ""); // the next card asks again
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const id of ["rules-tag", "rules-caution", "offered"]) document.getElementById(id)?.replaceWith(fresh.getElementById(id));
  document.getElementById("announce").textContent = `Rules in force now: ${fresh.getElementById("rules-tag")?.textContent ?? document.getElementById("rules-tag").textContent}`;
}
