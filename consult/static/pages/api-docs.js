// Tries out one route from the reference, as the person who is signed in, and shows what the server answered.

import "./folds.js";

document.addEventListener("submit", (event) => {
  if (!event.target.matches(".try")) return;
  event.preventDefault();
  send(event.target);
});

async function send(form) {
  const { method, csrf } = form.dataset;
  const body = form.elements.namedItem("body");
  const answer = await fetch(address(form), {
    method,
    headers: { Accept: "application/json", ...(body ? { "Content-Type": "application/json", "X-CSRFToken": csrf } : {}) },
    body: body?.value,
  }).catch(() => null);
  const text = answer ? await answer.text() : "";
  form.querySelector(".answer-status").textContent = answer ? `${answer.status} ${answer.statusText}` : "The server could not be reached.";
  const place = form.querySelector("pre");
  place.textContent = pretty(text);
  place.hidden = !text;
}

/** The route with its parameters filled in: those in braces within the path, the others behind it. */
function address(form) {
  let path = form.dataset.path;
  const query = new URLSearchParams();
  for (const field of form.querySelectorAll("input")) {
    const value = field.value.trim();
    if (path.includes(`{${field.name}}`)) path = path.replace(`{${field.name}}`, encodeURIComponent(value));
    else if (value) query.set(field.name, value);
  }
  return query.size ? `${path}?${query}` : path;
}

function pretty(text) {
  try {
    return JSON.stringify(JSON.parse(text), null, 2);
  } catch {
    return text;
  }
}
