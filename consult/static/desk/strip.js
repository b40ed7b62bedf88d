// The strip of the physicians' pages: whether they are live, how many HIGH alerts nobody has acknowledged, which have climbed
// to whoever looks, the banner of the rule set in force, and the notice that it has changed.

import { _ } from "../core/words.js";
import { Live } from "../core/live.js";
import { parse } from "../core/parts.js";
import { clockText, countText, hereText } from "../core/times.js";
import { forgetControl, noteControl } from "./control.js";

const FOLDS_AT = 200; // px; what folds away is less high than the way back to where it unfolds
const UNFOLDS_AT = 40;

// ---- the link

/** Keep the strip's link to the server; `onMessage` gets every message but ticks. */
export function startStrip(path, onMessage) {
  const take = (message) => {
    noteOpen(message);
    noteCards(message, path.startsWith("/ws/board/"));
    if (message.type === "tick") return void (open.size || askForRules());
    checkRules((message.card ?? message.cases?.[0])?.rule_set);
    onMessage(message);
  };
  const link = new Live(path, { onMessage: take, onLive: (live) => { sayLive(live); show(link); }, onRefused: leave });
  document.addEventListener("click", (event) => event.target.closest("[data-act='reconnect']") && link.connect());
  document.addEventListener("submit", readChanges);
  setInterval(() => show(link), 500);
  startHead();
}

/** Hand on who has control of what; a page of one case has the others from elsewhere. */
function noteCards(message, all) {
  if (message.cases) noteControl(message.cases, { all });
  if (message.card) noteControl([message.card], { live: true });
  if (message.type === "gone") forgetControl(message.case, all ? message.ended : null); // its own page says itself that it ended
}

/** Signed out, or not theirs any more. */
const leave = (code) => location.assign(code === 4401 ? `/sign-in/?next=${encodeURIComponent(location.pathname)}` : "/");

function sayLive(live) {
  for (const element of document.querySelectorAll("[data-live]")) element.dataset.live = live ? "live" : "lost";
  document.getElementById("announce")?.replaceChildren(live ? _("Live") : _("Not live. Use the radio."));
}

/** Write the strip: a dot that travels among five between ticks while live, else since when nothing has come. */
function show(link) {
  const silent = performance.now() - link.heardAt;
  const dots = document.querySelectorAll(".live-sign circle");
  const at = Math.min(Math.floor(silent / 1000), dots.length - 1);
  dots.forEach((dot, place) => dot.toggleAttribute("data-on", Boolean(link.live) && place === at));
  write("live-word", link.live ? _("Live") : link.live === null ? _("Connecting") : _("Not live. Last update {link}, {silent} ago", { link: clockText(link.lastAt), silent: countText(silent) }));
  write("live-next", link.nextTry ? _("next try in {now} s", { now: Math.max(0, Math.ceil((link.nextTry - performance.now()) / 1000)) }) : _("trying now"));
}

function write(id, text) {
  const element = document.getElementById(id);
  if (element && element.textContent !== text) element.textContent = text;
}

// ---- alerts

/** What of a card the strip tells: a cardiac arrest, its unacknowledged HIGH alerts, and those escalated to this role. */
export function toldOf(card, role) {
  const raised = (card.alerts ?? []).filter((alert) => !alert.acknowledged && !alert.cleared_at);
  const mine = role === "supervisor" ? ["supervisor"] : ["physicians", "supervisor"];
  const whom = [card.unit.call_sign, card.patient?.label].filter(Boolean).join(" ");
  const arrest = card.phase === "arrest";
  const climbed = raised.filter((alert) => mine.includes(alert.escalated_to)).map(({ priority, text }) => ({ case: card.case, priority, text: `${whom}: ${hereText(text)}` }));
  if (arrest) climbed.unshift({ case: card.case, priority: "high", arrest, text: _("{whom}: cardiac arrest", { whom }) });
  return { high: raised.filter(({ priority }) => priority === "high").length + arrest, arrest, climbed };
}

/** Write the count of HIGH alerts into the strip. */
export function showHigh(count) {
  const place = document.getElementById("count-high");
  place.hidden = !count;
  place.querySelector("b").textContent = String(count);
}

const RANK = ({ arrest, priority }) => (arrest ? 0 : priority === "high" ? 1 : 2);

/** Name the arrests and the alerts that have climbed, each a way to its case, the worst first; a screen reader hears each new one. */
export function showClimbed(told) {
  const list = told.toSorted((one, other) => RANK(one) - RANK(other));
  const place = document.getElementById("climbed");
  const said = list.map(({ text }) => text).join();
  if (place.dataset.said === said) return;
  place.dataset.said = said;
  place.hidden = !list.length;
  const links = list.map(({ case: id, priority, arrest, text }) => {
    const link = Object.assign(document.createElement("a"), { href: `/cases/${id}/`, textContent: arrest ? text : _("{priority}escalated to you: {alert}", { priority: priority === "high" ? "HIGH, " : "", alert: text }) });
    link.dataset.priority = priority;
    return link;
  });
  place.replaceChildren(...(links.length > 1 ? [folded(list, links, place.querySelector("details")?.open)] : links));
}

/** One line for many, which says the worst and opens when it is pressed. */
function folded([worst, ...more], links, open) {
  const fold = Object.assign(document.createElement("details"), { open: Boolean(open) });
  const line = document.createElement("summary");
  line.textContent = _("{why} (+{more} more)", { why: links[0].textContent, more: more.length });
  line.dataset.priority = worst.priority;
  fold.append(line, ...links);
  return fold;
}

// ---- the rules in force, and the notice that they have changed

const open = new Set(); // of the cases that this socket tells: each card names the rules by which it is judged
let asked = "";

function noteOpen(message) {
  if (message.type === "hello") open.clear();
  for (const card of message.cases ?? []) open.add(card.case);
  if (message.type === "card") open.add(message.case);
  if (message.type === "gone") open.delete(message.case);
}

/** Compare the rule set of an open case with the page's banner, and fetch the banner anew once where they differ. */
async function checkRules(rules) {
  const named = rules && `${rules.digest} ${rules.approved}`;
  if (!named || named === asked || document.getElementById("rules-tag").dataset.rules === named) return;
  asked = named;
  if (!await askForRules()) asked = ""; // the next card asks again
}

/** Draw anew what the page says of the rules; with no case open it is asked for with each tick. */
async function askForRules() {
  const answer = await fetch("/rules/banner/", { cache: "no-store" }).catch(() => null);
  if (!answer?.ok || answer.redirected) return false;
  const fresh = parse(await answer.text());
  const tag = fresh.querySelector("#rules-tag");
  if (!tag || tag.dataset.rules === document.getElementById("rules-tag").dataset.rules) return true;
  for (const id of ["rules-tag", "rules-caution", "rules-news", "offered"]) document.getElementById(id)?.replaceWith(fresh.querySelector(`#${id}`));
  document.getElementById("announce").textContent = _("Rules in force now: {rules}", { rules: document.getElementById("rules-tag").textContent });
  return true;
}

/** Say that one has read what changed, without leaving the page; where that fails the notice stays. */
async function readChanges(event) {
  const form = event.target.closest("#rules-news form");
  if (!form) return;
  event.preventDefault();
  const answer = await fetch(form.action, { method: "POST", body: new FormData(form) }).catch(() => null);
  if (!answer?.ok) return void (document.getElementById("announce-now").textContent = _("Not kept: press again"));
  document.getElementById("rules-news").hidden = true;
  document.getElementById("main").focus({ preventScroll: true });
}

// ---- the head stays in sight; on a small screen only what warns of it, once the page is scrolled

/** Tell the style sheet how high the head is, and fold it while the page is scrolled; the style sheet says of what, and on which screens. */
function startHead() {
  const head = document.getElementById("head");
  new ResizeObserver(() => document.body.style.setProperty("--head", `${head.offsetHeight}px`)).observe(head);
  const fold = () => {
    if (scrollY > FOLDS_AT) head.dataset.scrolled = "";
    else if (scrollY < UNFOLDS_AT) delete head.dataset.scrolled;
  };
  addEventListener("scroll", fold, { passive: true });
  fold();
}
