/* The crew's pages: one queue, one clock, one link line, and whatever form the page holds. */

import { _ } from "../core/words.js";
import { remember } from "../core/parts.js";
import { startClock } from "../core/times.js";
import { startArrest } from "./arrest.js";
import { ChangeForm } from "./change.js";
import { DoseForm } from "./dose.js";
import { startDrafts } from "./draft.js";
import { EntryForm } from "./entry.js";
import { startKeys, startListed, startWeight } from "./fields.js";
import { startFind } from "./find.js";
import { isKept, startKeeping } from "./keep.js";
import { KINDS } from "./kinds.js";
import { Link } from "./link.js";
import { renew, startLive } from "./live.js";
import { takeNewest } from "./made_for.js";
import { startNewest } from "./newest.js";
import { startNews } from "./news.js";
import { startOpening, startWaiting } from "./not_sent.js";
import { startOrder } from "./order.js";
import { Queue } from "./queue.js";
import { startReadback } from "./readback.js";
import { StepForm } from "./step.js";
import { startVitals } from "./vitals.js";

const TICKS_MS = 500; // a countdown by which somebody gives a drug loses no second

function startForm(form, queue, run) {
  const { kind, treatment } = form.dataset;
  if (kind === "vitals") return startVitals(form, queue, run);
  if ("about" in form.dataset) return new EntryForm(form, queue, KINDS.about);
  if (treatment !== "other" && ["intervention", "order"].includes(kind)) return new DoseForm(form, queue);
  if ("byStep" in form.dataset) return new StepForm(form, queue);
  if (kind === "change") return new ChangeForm(form, queue);
  return new EntryForm(form, queue, KINDS[treatment === "other" ? (kind === "order" ? "other_order" : "other") : kind]);
}

/* Parts of a form that belong to one choice: shown with it, left out of the entry without it. */
function startChoices(form) {
  const show = () => {
    const chosen = form.elements.said?.value ?? form.elements.status?.value ?? form.elements.procedure?.value ?? form.elements.topic?.value ?? form.elements.pregnant?.value;
    for (const part of form.querySelectorAll("[data-for]")) part.hidden = !part.dataset.for.split(" ").includes(chosen);
    for (const part of form.querySelectorAll("[data-not-for]")) part.hidden = form.elements["patient.sex"]?.value === part.dataset.notFor;
    for (const part of form.querySelectorAll("[data-other]")) part.hidden = form.elements.treatment.value !== "other";
    for (const part of form.querySelectorAll("[data-acts]")) part.hidden = !part.dataset.acts.split(" ").includes(form.elements.action.value || "begin");
    for (const part of form.querySelectorAll("[data-needs]")) part.hidden = !form.elements[part.dataset.needs].value;
    for (const unit of form.querySelectorAll("[data-unit-of]")) {
      unit.dataset.unset ??= unit.textContent;
      unit.textContent = form.querySelector(`[name="${unit.dataset.unitOf}"]:checked`)?.parentNode.textContent.trim() ?? unit.dataset.unset;
    }
    for (const [box, name] of [["age_unknown", "patient.age.value"], ["weight_unknown", "patient.weight.value"]]) {
      if (form.elements[box]) form.elements[name].disabled = form.elements[box].checked;
    }
  };
  for (const kind of ["change", "input"]) form.addEventListener(kind, show);
  form.addEventListener("reset", () => setTimeout(show));
  show();
}

function startSignOut(queue) {
  const form = document.getElementById("sign-out");
  form?.addEventListener("submit", async (event) => {
    if (form.dataset.sure) return;
    event.preventDefault();
    const waiting = await queue.all();
    if (!waiting.length) return form.submit();
    form.dataset.sure = "yes";
    const warning = document.getElementById("sign-out-warning");
    warning.hidden = false;
    warning.textContent = _("Not sent yet: {count} of your entries. They stay on this phone and are sent when you sign in here again. Press again to sign out.", { count: waiting.length });
    return undefined;
  });
}

/* Without a link a page that is not kept cannot be opened: say so instead of losing this one. A call needs none. */
function startLinks(link) {
  document.addEventListener("click", async (event) => {
    const target = event.target.closest("a[href]");
    if (!target || link.linked || target.origin !== location.origin || target.getAttribute("href").startsWith("#")) return;
    event.preventDefault();
    if (await isKept(target.href)) return void location.assign(target.href);
    tellOnTop("held", _("Offline: “{page}” cannot be opened now. What you enter here is kept.", { page: target.firstChild.textContent.trim() }));
    return undefined;
  });
}

/* How high the part stands that is always in sight, for what comes to rest below it. */
function measureTop() {
  const top = document.querySelector(".top");
  const measure = () => {
    if (getComputedStyle(top).position === "sticky") document.documentElement.style.setProperty("--top", `${top.offsetHeight}px`);
    else document.documentElement.style.removeProperty("--top");
  };
  new ResizeObserver(measure).observe(top);
}

/* One line of this id on top of the page's content. */
function tellOnTop(id, text) {
  let told = document.getElementById(id);
  if (!told) {
    told = Object.assign(document.createElement("p"), { id, className: "wrong", role: "alert" });
    document.getElementById("main").prepend(told);
  }
  told.textContent = text;
  told.scrollIntoView({ block: "center" });
}

/* A phone whose store is full, or which takes no more for another reason. */
function startNotKept(queue) {
  queue.addEventListener("not-kept", ({ detail: { entry } }) => tellOnTop("not-kept", _("Not kept on this phone: {says}. Try again; if it happens again, write it on paper.", { says: entry.says })));
  queue.addEventListener("change", () => document.getElementById("not-kept")?.remove());
}

async function start() {
  const { membership } = document.body.dataset;
  const queue = new Queue(membership);
  startNotKept(queue);
  measureTop();
  remember(document);
  startClock(TICKS_MS);
  const run = startKeys();
  for (const form of document.querySelectorAll("form.entry")) {
    startChoices(form);
    startForm(form, queue, run);
    startWeight(form);
    startListed(form);
    if (form.dataset.kind === "readback") startReadback(form);
    if (form.dataset.kind === "case") startOpening(form, membership);
  }
  startDrafts(document.querySelectorAll("form.entry"), membership);
  startArrest(queue);
  startFind();
  startOrder();
  await queue.open();
  const link = new Link(queue);
  startLinks(link);
  await takeNewest().catch(() => {}); // a browser that keeps no pages has none that is newer
  await startNewest(queue);
  startNews(membership, link, queue);
  startLive(link);
  startKeeping(link).catch(() => {}); // a browser that keeps no pages works as one without a worker
  startSignOut(queue);
  await startWaiting(queue);
  queue.addEventListener("sent", () => renew());
  navigator.storage?.persist?.();
  document.documentElement.dataset.ready = "yes";
}

/* A browser that keeps nothing must not look as if it did. */
start().catch((error) => {
  const line = document.getElementById("link");
  line.dataset.link = "lost";
  const text = _("This browser cannot keep entries. Use another one, or the paper protocol");
  for (const id of ["link-text", "link-said"]) document.getElementById(id).textContent = text;
  for (const button of document.querySelectorAll('button[type="submit"], [data-press]')) button.disabled = true;
  console.error(error);
});
