/* What this phone knows of a case beyond what a page was told: the page may be an older one, kept for when there is no link. */

import { _ } from "../core/words.js";

/* What only answers somebody: nothing that was done to the patient. */
export const ANSWERS = ["answer", "understood", "done", "unable", "readback", "not_given", "withdraw", "withdraw_question"];

/* Of the entries of this phone those that a page of this `seq` does not hold yet, without what was taken back. */
export function unknownTo(seq, entries) {
  const wrong = new Set(entries.filter(({ kind }) => kind === "correction").map(({ data }) => data.target?.id));
  return entries.filter((entry) => entry.kind !== "correction" && !wrong.has(entry.id) && (entry.seq === null || entry.seq > seq));
}

/* What was marked as entered in error on this phone, and a page of this `seq` does not say so yet. */
export const takenBack = (seq, entries) => entries.filter((entry) => entry.kind === "correction" && (entry.seq === null || entry.seq > seq));

/* What became of these entries, the worst of it. */
export function fate(entries) {
  if (entries.some(({ state }) => state === "refused")) return _("not accepted");
  return entries.some(({ seq }) => seq === null) ? _("not sent yet") : _("sent");
}

/* The newest phase, {phase, since}: the last that was entered on this phone, else as the page was told. */
export function newestPhase(told, news) {
  const own = news.filter(({ kind }) => kind === "phase").at(-1)?.data;
  return own && own.phase !== told.phase ? { phase: own.phase, since: own.at } : told;
}
