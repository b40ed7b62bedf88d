/* For whom a page was made. The patient is named as this phone knows it by now; amounts that were made for another weight, or
   before the patient's details or the rules changed, are neither shown nor given until the page comes anew. */

import { _ } from "../core/words.js";
import { line } from "../core/check.js";
import { parse, put } from "../core/parts.js";
import { unknownTo } from "./known.js";
import { weightText } from "./patient.js";

const FRAME = ["page-told", "high", "arrest", "dues", "last"]; // what all pages of a case tell alike
const body = document.body;
const toldIn = (page) => JSON.parse(page.querySelector("#page-told").textContent);
const partOf = (page, name) => page.querySelector(`[data-part="${name}"]`);
const seqOf = ({ headers }) => Number(headers.get("X-Seq"));

/* Every name that the page has had for its patient and the weight, the newest last. */
const names = [{ who: body.dataset.who, weight: body.dataset.weight }];
let newest = null; // what the newest kept page was told, where that is newer than this one

const weightAlone = ({ patient, impression }) => !impression && Object.keys(patient).every((name) => name === "weight");

/* The patient by now, {key, but_weight, who, weight}: `key` null where this phone has changed it and the server has not said
   for whom yet; `but_weight`, of what is the same at any weight, stands while that was the weight alone. */
function patientNow({ seq, made_for: told }, entries) {
  const changes = unknownTo(seq, entries).filter(({ kind, data }) => kind === "patch" && (data.patient || data.impression)).map(({ data }) => data);
  if (!changes.length) return told;
  const weighed = changes.findLast(({ patient }) => patient?.weight)?.patient.weight;
  const weight = weighed ? weightText(weighed) : told.weight;
  const butWeight = changes.every(weightAlone) ? told.but_weight : null;
  return { key: null, but_weight: butWeight, who: told.who.replace(told.weight, weight), weight };
}

/* The name in head, buttons and what is read aloud. */
function rename(now) {
  if (names.at(-1).who !== now.who) names.push({ who: now.who, weight: now.weight });
  for (const place of document.querySelectorAll(".patient, .dock small, .outcome-who, .spoken")) {
    const texts = document.createTreeWalker(place, NodeFilter.SHOW_TEXT);
    while (texts.nextNode()) {
      const { data } = texts.currentNode;
      const was = names.findLast(({ who, weight }) => data.includes(weight) && !data.includes(now.weight) && (data.includes(who) || data.trim() === weight));
      if (was) texts.currentNode.data = data.replace(was.who, now.who).replace(was.weight, now.weight);
    }
  }
  body.dataset.who = now.who;
}

/* Why nothing may be given or asked for by what the page offers, as the main button says it; "" while it may. What is only
   recorded, or typed by oneself, is never held. */
export function patientHold(form) {
  const offers = form.dataset.treatment && form.dataset.treatment !== "other";
  return offers || "byOrder" in form.dataset || "byStep" in form.dataset ? body.dataset.otherPatient ?? "" : "";
}

function tell({ weight }) {
  const was = body.dataset.weight;
  body.dataset.otherPatient = was === weight ? _("The patient’s details or the rules changed") : _("Made for {was}, now {weight}", { was, weight });
  const text = was === weight
    ? _("Amounts here were made before the patient’s details or the rules changed. They are shown again once the latest page is here.")
    : _("Amounts here were made for {was}. The weight is {weight} now: they are shown again once the latest page is here.", { was, weight });
  const told = document.querySelector("#made-for span");
  if (told) return void (told.textContent = text);
  const place = Object.assign(line("p", "", "wrong"), { id: "made-for" });
  place.setAttribute("role", "alert");
  place.append(line("span", text));
  document.getElementById("main").prepend(place);
}

/* What the page shows was made anew, but for what stands in no part. */
export function madeAnew() {
  const place = document.getElementById("page-told");
  if (!place || [...document.querySelectorAll("[data-made]")].some((each) => !each.closest("[data-part]"))) return;
  const { key, weight } = JSON.parse(place.textContent).made_for;
  Object.assign(body.dataset, { madeFor: key, weight });
}

/* Name the patient as it is by now, and hold what was made for another one; the document hears "made-before". */
export function showPatient(told, entries) {
  const now = patientNow(newest?.seq > told.seq ? newest : told, entries);
  rename(now);
  const isOther = ![now.key, now.but_weight].includes(body.dataset.madeFor) && Boolean(document.querySelector("[data-made]"));
  const was = body.dataset.otherPatient;
  if (isOther) tell(now);
  else {
    delete body.dataset.otherPatient;
    document.getElementById("made-for")?.remove();
  }
  if (was === body.dataset.otherPatient) return;
  document.dispatchEvent(new Event("order-moved"));
  if (isOther) document.dispatchEvent(new Event("made-before"));
}

/* The kept pages of this case that are newer than this one, the newest first. */
async function newerPages(seq) {
  const found = [];
  for (const name of (await caches.keys()).filter((each) => each.startsWith("crew-pages-"))) {
    const pages = await caches.open(name);
    const ofCase = (await pages.keys()).filter(({ url }) => new URL(url).pathname.startsWith(`/crew/${body.dataset.case}/`));
    found.push(...await Promise.all(ofCase.map((each) => pages.match(each.url, { ignoreVary: true }))));
  }
  const newer = found.filter((page) => seqOf(page) > seq).sort((one, other) => seqOf(other) - seqOf(one));
  return Promise.all(newer.map(async (page) => parse(await page.text())));
}

/* What all pages of a case tell alike a kept page takes from the newest that was kept: of the same kind, the case's own page
   tells its alerts itself. */
export async function takeNewest() {
  if (!("kept" in body.dataset) || !document.getElementById("page-told")) return;
  const pages = await newerPages(toldIn(document).seq);
  if (!pages.length) return;
  newest = toldIn(pages[0]);
  put(partOf(document, "patient"), partOf(pages[0], "patient"));
  const mine = FRAME.filter((name) => partOf(document, name));
  const like = pages.find((page) => !partOf(page, "now") === !partOf(document, "now") && mine.every((name) => partOf(page, name)));
  for (const name of like ? mine : []) put(partOf(document, name), partOf(like, name));
}
