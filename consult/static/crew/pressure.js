/* The pressure while it is typed: a preview only. Goal and floors come from the server with the page, and the server
   judges again when the reading arrives. Compared unrounded, rounded for the eye. All in mmHg. */

import { _ } from "../core/words.js";

const WORDS = { critical: _("Critical"), below_goal: _("Below goal"), at_goal: _("At goal"), normal_range: _("At goal 80–100"), above_range: _("High: MAP above 100"), unknown: _("Unknown") };
const FINE = 0, BELOW = 1, CRITICAL = 2;

/* Mean arterial pressure, or null without both numbers. */
export function meanPressure(sbp, dbp) {
  return Number.isFinite(sbp) && Number.isFinite(dbp) ? (sbp + 2 * dbp) / 3 : null;
}

/* Rounded half up, with one decimal where the whole number would cross a limit: 64.67 under 65 reads 64.7, 64.97 reads
   64.9. `below` are limits under which something is said, `above` those over which it is. */
export function safelyRounded(value, below = [], above = []) {
  const crosses = (shown) => below.some((limit) => (value < limit) !== (shown < limit))
    || above.some((limit) => (value > limit) !== (shown > limit));
  const [whole, tenth] = [1, 10].map((step) => Math.floor(value * step + 0.5) / step);
  if (!crosses(whole)) return String(whole);
  return String(crosses(tenth) ? (tenth > value ? Math.floor(value * 10) : Math.ceil(value * 10)) / 10 : tenth);
}

/* Which MAP decides: the monitor's for an arterial line or where it stands alone, the lower of both for a cuff, else the
   computed one; by palpation there is none. */
export function decidingMean({ sbp, dbp, map_reported: reported, bp_method: method }) {
  if (method === "palpated" || method === "unobtainable") return null;
  const computed = meanPressure(sbp, dbp);
  if (!Number.isFinite(reported)) return computed;
  if (computed === null || method === "arterial") return reported;
  return method === "cuff" ? Math.min(computed, reported) : computed;
}

function level(value, limit, atLimitToo) {
  if (value === null) return null;
  if (value < limit.critical || (atLimitToo && value === limit.critical && value < limit.floor)) return CRITICAL;
  return value < limit.floor ? BELOW : FINE;
}

/* The worse of the two decides; where both stand alike, an adult's MAP or a child's systolic. */
function judgingMeasure(byMap, bySbp, adult) {
  if (byMap === null) return "sbp";
  if (bySbp === null || byMap > bySbp) return "map";
  return adult && byMap === bySbp ? "map" : "sbp";
}

function stateOf(worst, map, usual) {
  if (worst !== FINE) return worst === CRITICAL ? "critical" : "below_goal";
  if (map === null) return "unknown";
  if (!usual || map < usual[0]) return "at_goal";
  return map <= usual[1] ? "normal_range" : "above_range";
}

/* What to show for a reading under way, or null while there is nothing to judge: `lead` the deciding number (or word),
   `beside` the other one, state and word, goal and how far short of it.
   `limits` is {adult, map: {critical, floor}, sbp: {critical, floor}, usual: [low, high] | null}. */
export function preview(reading, limits) {
  if (reading.bp_method === "unobtainable") return { lead: _("Unobtainable"), measure: _("Pressure"), beside: "", state: "critical", word: _("Critical"), goal: null, short: null };
  const sbp = Number.isFinite(reading.sbp) ? reading.sbp : null;
  const map = decidingMean(reading);
  if (sbp === null && map === null) return null;
  const byMap = level(map, limits.map, false);
  const bySbp = level(sbp, limits.sbp, !limits.adult);
  const measure = judgingMeasure(byMap, bySbp, limits.adult);
  const state = stateOf(Math.max(byMap ?? FINE, bySbp ?? FINE), map, limits.usual);
  const value = measure === "map" ? map : sbp;
  const shownMap = map === null ? "unknown" : safelyRounded(map, [limits.map.critical, limits.map.floor, ...(limits.usual ? [limits.usual[0]] : [])], limits.usual ? [limits.usual[1]] : []);
  const shownSbp = sbp === null ? "" : safelyRounded(sbp, [limits.sbp.critical, limits.sbp.floor]);
  const unknown = state === "unknown";
  return {
    lead: measure === "map" || unknown ? shownMap : shownSbp,
    measure: measure === "map" || unknown ? "MAP" : "SBP",
    beside: measure === "map" ? "" : unknown ? _("Systolic {sbp}", { sbp: shownSbp }) : `MAP ${shownMap}`,
    state, word: WORDS[state], goal: limits[measure].floor,
    short: value < limits[measure].floor ? safelyRounded(limits[measure].floor - value, [], [0]) : null,
  };
}

/* The mean pressure alone, where nobody has said yet what this patient's limits are. */
export function unjudged(reading) {
  const map = decidingMean(reading);
  return map === null ? null : { lead: safelyRounded(map), measure: "MAP", beside: "", state: "unknown", word: _("Not checked yet"), goal: null, short: null };
}
