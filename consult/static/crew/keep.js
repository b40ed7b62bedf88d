/* Keeps the pages of the unit's open cases for when there is no link (worker.js), and says what is shown without one. */

import { _ } from "../core/words.js";
import { clockText } from "../core/times.js";
import { isBegun } from "./draft.js";

const AFTER_MS = 3000; // the page that is open comes first
const AGAIN_MS = 120_000;
const OFTEN = ["", "vitals/", "give/", "orders/", "note/", "procedure/", "handover/"];
const SELDOM = ["patient/", "phase/", "coverage/", "correction/"];
const SELDOM_MS = 1_800_000; // some ninety pages a case, 1 MB
const QUICK_MS = 2000; // a page that takes longer would be shown as it was kept
const MOST = 100; // pages of a case

/* What a case that the server has not heard of can have, by its path: pages with blanks for the patient (not_sent.js). */
export const BLANKS = { "": "case", "vitals/": "vitals", "give/": "give", "give/other/": "other", "note/": "note", "procedure/": "procedure", "phase/": "phase" };

export const keptPage = (path) => caches.match(new URL(path, location.href).href, { ignoreVary: true });

/* Whether a page can be opened without a link. */
export const isKept = async (path) => Boolean(globalThis.caches && await keptPage(path));

const madeFor = ({ headers }) => headers.get("X-Made-For");

/* The page as it is kept, unless that is too old or was made for the patient as known before; then anew. */
async function pageOf(path, freshFor, whom) {
  const known = await keptPage(path);
  if (known && Date.now() - Number(known.headers.get("X-Kept-At")) < freshFor && (!whom || madeFor(known) === whom)) return known;
  return fetch(path, { cache: "no-store", headers: { "X-Parts": "1" } }); // the worker keeps it on its way; nobody has looked at it
}

/* The page on which what may only be asked for is recorded once it was given; the link itself where it leads elsewhere. */
const givenOn = (link) => link.replace(/orders\/request\/\?treatment=([^&]+)&?/, "give/$1/?").replace(/\?$/, "");

function linksIn(html, home) {
  const links = new DOMParser().parseFromString(html, "text/html").querySelectorAll(`main a[href^="${home}"], .dock a[href^="${home}"]`);
  return [...links].map((link) => link.getAttribute("href")).flatMap((link) => [link, givenOn(link)]);
}

const toldHere = () => JSON.parse(document.getElementById("page-told")?.textContent ?? "null");

/* `isMoved`: what changes often is fetched whatever its age. */
async function keepCase(id, isMoved) {
  const home = `/crew/${id}/`;
  const lists = new RegExp(`^${home}(give/|orders/([0-9a-f-]{36}/)?)?$`); // what they lead to is kept, too
  const often = OFTEN.map((path) => home + path);
  const isOften = (path) => often.includes(path) || path.startsWith(`${home}orders/`) && !path.includes("?");
  const whom = document.body.dataset.case === id && toldHere()?.made_for.key || madeFor(await pageOf(home, AGAIN_MS));
  const wanted = new Set([...often, ...SELDOM.map((path) => home + path)]);
  for (const path of wanted) { // grows meanwhile
    const page = await pageOf(path, isOften(path) ? (isMoved ? 0 : AGAIN_MS) : SELDOM_MS, whom);
    if (!page.ok) return;
    if (lists.test(path)) for (const link of linksIn(await page.text(), home)) if (wanted.size < MOST || isOften(link)) wanted.add(link);
  }
}

/* One page of several that are open does it; it stops with the link, and goes on with it. */
async function keepAll(ids, isMoved) {
  await navigator.locks.request("crew-keep", { ifAvailable: !isMoved }, async (mine) => {
    if (!mine) return;
    for (const path of ["/crew/", "/crew/open/"]) await pageOf(path, AGAIN_MS);
    for (const name of Object.values(BLANKS)) await pageOf(`/crew/not-sent/${name}/`, SELDOM_MS);
    for (const id of ids) await keepCase(id, isMoved);
  }).catch(() => {}); // the next round does it
}

/* Whom the case is about, and which orders wait for the crew, as this page was told: what is kept follows at once. */
function stands() {
  const told = toldHere();
  return told && [told.made_for.key, ...Object.keys(told.waits)].join();
}

/* Whether loading the page anew would take something away: what is half typed, or what became of an entry. */
const isInUse = () => [...document.querySelectorAll("form.entry")].some(isBegun) || Boolean(document.querySelector(".outcome:not([hidden])"));

let awaited = false; // the latest page

/* Once all is sent the latest page comes by itself. */
function loadLatest({ queue }) {
  if (awaited) return;
  awaited = true;
  let busy = false;
  let leaving = false;
  addEventListener("beforeunload", () => { leaving = true; }); // whoever is on the way to another page goes on
  const look = async () => {
    if (busy || leaving || isInUse() || (await queue.waiting()).length) return;
    busy = true;
    const answer = await fetch(location.href, { cache: "no-store", headers: { "X-Parts": "1" }, signal: AbortSignal.timeout(QUICK_MS) }).catch(() => null);
    if (answer?.ok && !leaving && !isInUse()) location.reload();
    busy = false;
  };
  queue.addEventListener("change", look);
  look();
}

/* A page that was made for the patient as known before comes anew, or offers that, once all that was entered is sent. */
function renewOlder(link) {
  const offer = async () => {
    const place = document.getElementById("made-for");
    if (!place || !link.linked || (await link.queue.waiting()).length) return;
    if (!place.querySelector("a")) place.append(" ", Object.assign(document.createElement("a"), { className: "quiet-big", href: location.href, textContent: _("Show the latest") }));
    loadLatest(link);
  };
  for (const kind of ["made-before", "link"]) document.addEventListener(kind, offer);
  link.queue.addEventListener("change", offer);
  offer();
}

/* Say that the page is an older one, and once there is a link again, have it anew or say how. */
function sayAge(link) {
  const place = document.createElement("p");
  Object.assign(place, { id: "kept", className: "notice" });
  place.setAttribute("role", "status");
  const words = document.createElement("span");
  const time = clockText(document.body.dataset.serverTime, false);
  words.textContent = _("Offline. As of {time}; newer is only what is marked “this phone”", { time });
  place.append(words);
  document.querySelector(".top").append(place);
  link.whenLinked(() => {
    const anew = Object.assign(document.createElement("a"), { className: "quiet-big", href: location.href, textContent: _("Back online: show the latest") });
    words.textContent = _("As of {time}; newer is only what is marked “this phone”", { time });
    place.replaceChildren(words, anew);
    loadLatest(link);
  });
}

/* What cannot be opened says so before it is pressed. */
async function markLinks(isLinked) {
  for (const link of document.querySelectorAll('a[href^="/"], a[href^="?"]')) {
    const isOff = !isLinked && link.pathname !== location.pathname && !(await isKept(link.getAttribute("href")));
    link.toggleAttribute("data-off", isOff);
    link.ariaDescription = isOff ? _("offline") : null;
  }
}

export async function startKeeping(link) {
  if ("kept" in document.body.dataset) sayAge(link);
  renewOlder(link);
  for (const kind of ["link", "parts"]) document.addEventListener(kind, () => markLinks(link.linked));
  if (!navigator.serviceWorker) return; // over plain HTTP a browser keeps no pages
  const ids = Object.keys(JSON.parse(document.body.dataset.cases));
  const round = async (isMoved = false) => (await navigator.serviceWorker.ready) && link.linked && keepAll(ids, isMoved);
  let stood = stands();
  document.addEventListener("parts", () => {
    if (stands() !== stood) round(true);
    stood = stands();
  });
  await navigator.serviceWorker.register("/crew/worker.js", { updateViaCache: "none" });
  await navigator.serviceWorker.ready;
  setTimeout(round, AFTER_MS);
  setInterval(round, AGAIN_MS);
}
