/* From a queued entry to the API: one entry goes to its own route, several together to /batch/. */

import { sameClock, setServerTime, timeBy } from "../core/clock.js";
import { call, reasonOf } from "../core/send.js";

const API = "/api/v1/";
const MOST = 200;
const MOST_BYTES = 200 * 1024;

const ROUTES = {
  case: () => "cases/",
  patch: (entry) => `cases/${entry.case}/`,
  vitals: (entry) => `cases/${entry.case}/vitals/`,
  intervention: (entry) => `cases/${entry.case}/interventions/`,
  change: (entry) => `interventions/${entry.target}/changes/`,
  procedure: (entry) => `cases/${entry.case}/procedures/`,
  container: (entry) => `cases/${entry.case}/containers/`,
  discard: (entry) => `containers/${entry.target}/discard/`,
  phase: (entry) => `cases/${entry.case}/phase/`,
  note: (entry) => `cases/${entry.case}/notes/`,
  coverage: (entry) => `cases/${entry.case}/coverage/`,
  correction: (entry) => `cases/${entry.case}/corrections/`,
  order: (entry) => `cases/${entry.case}/orders/`,
  readback: (entry) => `orders/${entry.target}/readback/`,
  not_given: (entry) => `orders/${entry.target}/not_given/`,
  answer: (entry) => `orders/${entry.target}/answer/`,
  withdraw: (entry) => `orders/${entry.target}/withdraw/`,
  move: (entry) => `cases/${entry.case}/move/`,
  question: (entry) => `cases/${entry.case}/questions/`,
  withdraw_question: (entry) => `questions/${entry.target}/withdraw/`,
  understood: (entry) => `instructions/${entry.target}/understood/`,
  done: (entry) => `instructions/${entry.target}/done/`,
  unable: (entry) => `instructions/${entry.target}/unable/`,
  handover: (entry) => `cases/${entry.case}/handover/`,
  close: (entry) => `cases/${entry.case}/close/`,
};
const TARGETS = { change: "intervention", discard: "container", readback: "order", not_given: "order", answer: "order", withdraw: "order",
  withdraw_question: "question", understood: "instruction", done: "instruction", unable: "instruction" };

export const routeOf = (entry) => API + ROUTES[entry.kind](entry);

/* The entry as /batch/ wants it: its kind, its case, and what it is about. */
export function batched(entry) {
  const about = TARGETS[entry.kind] ? { [TARGETS[entry.kind]]: entry.target } : {};
  const where = entry.kind === "case" ? {} : { case: entry.case };
  return { kind: entry.kind, id: entry.id, ...where, ...about, ...entry.data };
}

/* The oldest entries that may travel together: as many as the batch takes, by one clock. */
export function firstRun(waiting) {
  const run = [];
  let bytes = 0;
  for (const entry of waiting.slice(0, MOST)) {
    bytes += new Blob([JSON.stringify(entry.data)]).size + 300;
    if ((run.length && bytes > MOST_BYTES) || !sameClock(entry.clock, waiting[0].clock)) break;
    run.push(entry);
  }
  return run;
}

const isProblem = (status) => status >= 400 && status < 500 && ![401, 408, 425, 429].includes(status);
const isForLater = (status) => status >= 400 && !isProblem(status);

function resultOf(entry, status, content) {
  if (isProblem(status)) return { entry, problem: { text: reasonOf(content, status, true), status, errors: content?.errors ?? [] } };
  return { entry, answer: content };
}

/* Whether the session is still that of the membership whose entries these are: someone else may have signed in. */
async function stillOurs(membership) {
  const { status, content } = await call("GET", "/crew/who/");
  if (status >= 500) throw new Error("no answer");
  setServerTime(content?.server_time);
  return content?.membership === membership;
}

/* Send the oldest waiting entries once. No results: nothing was settled, so try again later. `wait`: more was sent than
   the server takes at once, what is left may be sent again in so many seconds.
   `signedOut`: the server answers, but this membership is not signed in any more. */
export async function deliver(waiting, membership) {
  try {
    if (!(await stillOurs(membership))) return { linked: true, signedOut: true, results: [] };
    return await deliverRun(waiting);
  } catch {
    return { linked: false, signedOut: false, results: [] };
  }
}

/* The first run; what fails by its own fault holds up no entries of another clock. */
async function deliverRun(waiting) {
  const run = firstRun(waiting);
  const sent_at = timeBy(run[0].clock).toISOString(); // by the clock of its entries, at the very moment of sending
  const outcome = await (run.length > 1 ? deliverBatch(run, sent_at) : deliverOne(run[0], sent_at));
  const next = waiting[run.length];
  return outcome.ownFault && next ? deliverRun(waiting.slice(run.length)) : outcome;
}

async function deliverOne(entry, sent_at) {
  const body = { id: entry.id, ...entry.data, sent_at };
  const answer = await call(entry.kind === "patch" ? "PATCH" : "POST", routeOf(entry), body);
  return { ...settled(answer, () => [resultOf(entry, answer.status, answer.content)]), ownFault: answer.status === 500 && answer.content !== null };
}

async function deliverBatch(run, sent_at) {
  const answer = await call("POST", `${API}batch/`, { sent_at, entries: run.map(batched) });
  const ownFault = answer.content?.results?.every(({ status }) => status === 500) ?? false;
  return { ...settled(answer, () => batchResults(run, answer.status, answer.content)), ownFault };
}

/* One answer each, by id. A batch refused as a whole blames its first entry, so that the rest can go on without it. */
function batchResults(run, status, content) {
  if (status >= 400) return [resultOf(run[0], status, content)];
  const byId = new Map(content.results.map((result) => [result.id, result]));
  return run.flatMap((entry) => {
    const result = byId.get(entry.id);
    if (!result || isForLater(result.status)) return [];
    return [resultOf(entry, result.status, result.status >= 400 ? result.problem : result)];
  });
}

function settled({ status, content, wait }, results) {
  const answered = content !== null || status === 204;
  if (status === 401) return { linked: true, signedOut: true, results: [] };
  const held = status < 500 ? wait : 0;
  if (!answered || isForLater(status)) return { linked: status < 500, signedOut: false, wait: held, results: [] };
  return { linked: true, signedOut: false, wait: held, results: results() };
}
