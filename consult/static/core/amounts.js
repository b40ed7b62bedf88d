// Amounts in one another's units, to tell which is more; nothing here is a dose to give.

const BASES = {
  mcg: ["mass", 1], mg: ["mass", 1000], g: ["mass", 1e6], mL: ["volume", 1], L: ["volume", 1000],
  units: ["units", 1], bag: ["bag", 1], mmol: ["mmol", 1], mEq: ["mEq", 1],
};

/** A unit such as "mcg/kg/min" as its kind and what one of it is; null for one that is not known. */
function measured(unit) {
  const [base, ...per] = unit.split("/");
  if (!BASES[base]) return null;
  const [kind, one] = BASES[base];
  const time = per.find((each) => each === "min" || each === "h");
  return { kind: time ? `${kind}/min` : kind, one: time === "h" ? one / 60 : one, perKg: per.includes("kg") };
}

/** How many times the other amount the one is; null where that cannot be told. `kg` is the patient's weight, if known. */
export function times(one, other, kg = null) {
  const [a, b] = [measured(one.unit), measured(other.unit)];
  if (!a || !b || a.kind !== b.kind || !(other.value > 0) || (a.perKg !== b.perKg && !kg)) return null;
  const weight = a.perKg === b.perKg ? 1 : a.perKg ? kg : 1 / kg;
  return (one.value * a.one * weight) / (other.value * b.one);
}

/** An amount as a number of another unit; null where it is of another kind. */
export const inUnit = (amount, unit, kg = null) => times(amount, { value: 1, unit }, kg);

/** "1,000 mL", "10 mcg per mL", without digits that only binary fractions have; an empty text without an amount. */
export const amountText = (amount) => (amount?.unit ? `${Number(amount.value).toLocaleString("en-US", { maximumSignificantDigits: 8 })} ${amount.unit.replace("/mL", " per mL")}` : "");
