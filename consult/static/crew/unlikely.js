/* What of a set can be measured but seldom is, as `dosing.patient.unlikely` has it, by bounds that come with the page: asked
   before it is sent, without a link, too. */

import { _ } from "../core/words.js";

const isOutside = (value, [least, most]) => value < (least ?? value) || value > (most ?? value);

/* Each in words, of a set as it would be sent; `measurements` are as the page names them. */
export function unlikely(data, bounds, measurements) {
  const { sbp, dbp, map_reported: reported, hr } = data;
  const said = (name) => measurements.find(([each]) => each === name)[1].replace("{}", () => data[name]);
  const texts = Object.keys(bounds).filter((name) => name in data && isOutside(data[name], bounds[name])).map(said);
  const pulse = Math.round((sbp - dbp) * 100) / 100;
  if (isOutside(pulse, bounds.pulse_pressure)) texts.push(_("systolic and diastolic {difference} apart", { difference: pulse }));
  const mean = (sbp + 2 * dbp) / 3;
  if (isOutside(Math.abs(reported - mean), bounds.map_difference)) texts.push(_("monitor MAP {reported}, computed {computed}", { reported, computed: Math.round(mean) }));
  if (hr === 0 && sbp) texts.push(_("no heart beat, with a pressure"));
  return texts;
}
