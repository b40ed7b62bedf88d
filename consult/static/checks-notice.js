// Says when nothing raises alerts any more: each tick of a socket carries how long ago the sweep last ran.

const MAY_REST_S = 30; // as consult/heartbeat.py

export function showChecks({ sweep_age_s: age }) {
  document.getElementById("checks-notice").hidden = age !== null && age < MAY_REST_S;
}
