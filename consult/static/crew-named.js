/* A set of vitals in words, every value of it: what is sent is what is named. The page says how each measurement is
   said, in the order of its form: `[name, said, spoken]`, such as `["temp_c", "temp {} °C", {}]`. */

const PRESSURE = ["sbp", "dbp", "bp_method"]; // said as one
const UNSAID = [...PRESSURE, "taken_at", "source"]; // the others are no measurement
const words = (name) => name.replaceAll("_", " ");

function pressureText({ sbp, dbp, bp_method: method }, methods) {
  const by = methods[method] ?? method;
  if (method === "unobtainable") return "no pressure obtainable";
  if (sbp === undefined) return method && method !== "palpated" ? `by ${by}` : "";
  return `${sbp}/${method === "palpated" ? "P" : dbp ?? "?"} mmHg${method in methods ? ` by ${by}` : ""}`;
}

/* Every value of a set, each named; a measurement that this page does not know by its own name. */
export function vitalsNames(data, measurements) {
  const methods = measurements.find(([name]) => name === "bp_method")[2];
  const known = measurements.filter(([name]) => data[name] !== undefined && !PRESSURE.includes(name));
  const told = known.map(([name, said, spoken]) => said.replace("{}", () => spoken[data[name]] ?? data[name]));
  const others = Object.keys(data).filter((name) => !UNSAID.includes(name) && !measurements.some(([each]) => each === name));
  return [pressureText(data, methods), ...told, ...others.map((name) => `${words(name)} ${data[name]}`)].filter(Boolean);
}

export const vitalsText = (data, measurements) => vitalsNames(data, measurements).join(", ");
