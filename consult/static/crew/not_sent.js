/* A case that waits on this phone: its pages are those that were kept with blanks for its patient, with that filled in, so
   that what is done meanwhile can be entered. With the link the server's own take their place (worker.js). */

import { _ } from "../core/words.js";
import { BLANKS, keptPage } from "./keep.js";
import { whoOf } from "./kinds.js";

const NOBODY = "00000000-0000-0000-0000-000000000000";

const escaped = (text) => Object.assign(document.createElement("p"), { textContent: text }).innerHTML;

async function pagesOf(membership) {
  const name = (await caches.keys()).find((each) => each.startsWith("crew-pages-") && each.endsWith(`-${membership}`));
  return name && caches.open(name);
}

/* Make the pages of a case of which the server has not heard; whether all of them are there. */
async function make({ id, data }, membership) {
  const pages = globalThis.caches && (await pagesOf(membership));
  const [who, weight] = whoOf(data.patient).map(escaped);
  const filled = async ([path, name]) => {
    const blank = pages && (await keptPage(`/crew/not-sent/${name}/`));
    if (!blank) return false;
    const html = (await blank.text()).replaceAll(NOBODY, id).replaceAll("PATIENT-NOT-SENT", who).replaceAll("WEIGHT-NOT-SENT", weight);
    const headers = new Headers(blank.headers);
    headers.set("X-Kept-At", String(Date.now()));
    headers.set("X-Not-Sent", "yes");
    await pages.put(new URL(`/crew/${id}/${path}`, location.href).href, new Response(html, { headers }));
    return true;
  };
  return (await Promise.all(Object.entries(BLANKS).map(filled))).every(Boolean);
}

/* The form of a new case leads on to the patient: at once where its pages are here, else as soon as the server has it. */
export function startOpening(form, membership) {
  const next = document.querySelector(".outcome [data-when-sent]");
  const lead = (id) => Object.assign(next, { href: `/crew/${id}/`, textContent: _("To the patient") });
  form.addEventListener("entry-kept", async ({ detail }) => { if (await make(detail, membership)) lead(detail.id); });
  form.addEventListener("entry-sent", ({ detail }) => lead(detail.case ?? detail.id));
}

/* The list of cases shows those that wait on this phone, too. */
export async function startWaiting(queue) {
  const place = document.querySelector('[data-part="cases"]');
  if (!place) return;
  const list = Object.assign(document.createElement("ul"), { className: "rows", id: "not-sent" });
  place.after(list);
  const show = async () => {
    const rows = (await queue.waiting()).filter(({ kind }) => kind === "case").map(({ id, data }) => {
      const row = document.createElement("li");
      const link = Object.assign(document.createElement("a"), { className: "row", href: `/crew/${id}/` });
      link.append(Object.assign(document.createElement("b"), { textContent: whoOf(data.patient).join(", ") }), Object.assign(document.createElement("p"), { className: "when", textContent: _("Kept on this phone, not sent yet") }));
      row.append(link);
      return row;
    });
    list.replaceChildren(...rows);
  };
  queue.addEventListener("change", show);
  await show();
}
