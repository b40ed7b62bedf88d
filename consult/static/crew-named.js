/* A set of vitals in words, every value of it: what is sent is what is named. */

const METHODS = { manual: "manual cuff", arterial: "arterial line", cuff: "cuff" };
const ALERT = { A: "alert", V: "responds to voice", P: "responds to pain", U: "unresponsive" };
const GLUCOSE = { low: "glucose meter: low", high: "glucose meter: high" };
const pulseText = (pulses) => (pulses === "none" ? "no pulse" : `${pulses} pulse`);

/* Each measurement in the order of the page: how its value is said. */
const NAMED = {
  pulses: pulseText, hr: (value) => `HR ${value}`, spo2: (value) => `SpO2 ${value}`, map_reported: (value) => `monitor MAP ${value}`,
  rr: (value) => `RR ${value}`, etco2: (value) => `EtCO2 ${value}`, cap_refill_s: (value) => `refill ${value} s`, avpu: (value) => ALERT[value] ?? value,
  lungs: (value) => `lungs ${value}`, gcs: (value) => `GCS ${value}`, temp_c: (value) => `temp ${value} °C`, glucose_mg_dl: (value) => `glucose ${value} mg/dL`,
  glucose_flag: (value) => GLUCOSE[value] ?? value, lactate_mmol_l: (value) => `lactate ${value} mmol/L`, hb_g_dl: (value) => `hemoglobin ${value} g/dL`,
  oxygen_l_min: (value) => `oxygen ${value} L/min`, rhythm: (value) => `rhythm ${value}`,
};
const UNSAID = ["sbp", "dbp", "bp_method", "taken_at", "source"]; // said as one pressure, or no measurement
const words = (name) => name.replaceAll("_", " ");

function pressureText({ sbp, dbp, bp_method: method }) {
  if (method === "unobtainable") return "no pressure obtainable";
  if (sbp === undefined) return METHODS[method] ? `by ${METHODS[method]}` : "";
  const by = ["manual", "arterial"].includes(method) ? ` by ${METHODS[method]}` : "";
  return `${sbp}/${method === "palpated" ? "P" : dbp ?? "?"} mmHg${by}`;
}

/* Every value of a set, each named; a measurement that this page does not know by its own name. */
export function vitalsNames(data) {
  const known = Object.keys(NAMED).filter((name) => data[name] !== undefined).map((name) => NAMED[name](data[name]));
  const others = Object.keys(data).filter((name) => !(name in NAMED) && !UNSAID.includes(name)).map((name) => `${words(name)} ${data[name]}`);
  return [pressureText(data), ...known, ...others].filter(Boolean);
}

export const vitalsText = (data) => vitalsNames(data).join(", ");
