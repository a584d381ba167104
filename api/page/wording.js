// Numbers as people read them: the same words as the service's texts and pictures have. A
// test holds each function against the service's own.

const metresPerMile = 1609.344;
const metresPerFoot = 0.3048;
const kgPerPound = 0.45359237;
const litresPerFluidOunce = 0.0295735295625;

/** Rounds to a whole number, halves away from zero. */
function round(v) {
  const whole = Math.trunc(v);
  return Math.abs(v - whole) >= 0.5 ? whole + Math.sign(v) : whole;
}

/** A number to a count of decimals, halves away from zero; never −0. */
export function rounded(v, decimals) {
  const scale = 10 ** decimals;
  return (round((round(v * 1e6) / 1e6) * scale) / scale + 0).toFixed(decimals);
}

/** A number to at most so many decimals, without noughts at its end. */
export function number(v, decimals) {
  const text = rounded(v, decimals);
  return decimals > 0 ? text.replace(/0+$/, "").replace(/\.$/, "") : text;
}

/** A whole number ≥ 0, from 10,000 on in threes. */
export function count(n) {
  return n < 10000 ? String(n) : String(n).replace(/\B(?=(\d{3})+$)/g, ",");
}

/** A time in s as h:mm:ss, below one hour as m:ss. */
export function clock(s) {
  const t = round(round(s * 1e6) / 1e6);
  const two = (n) => String(n).padStart(2, "0");
  return t < 3600 ? `${Math.floor(t / 60)}:${two(t % 60)}` : `${Math.floor(t / 3600)}:${two(Math.floor(t / 60) % 60)}:${two(t % 60)}`;
}

/** A difference of times: below 10 s to a tenth, below a minute in whole seconds, else as a clock. */
export function seconds(s) {
  s = Math.abs(s);
  if (s < 9.95 - 5e-7) return `${rounded(s, 1)} s`;
  if (s < 59.5 - 5e-7) return `${rounded(s, 0)} s`;
  return clock(s);
}

export const watts = (w) => `${rounded(w, 0)} W`;
export const kilojoules = (j) => `${rounded(j / 1000, 1)} kJ`;
export const kilograms = (kg) => `${rounded(kg, 1)} kg`;
export const wattsPerKilogram = (v) => `${rounded(v, 2)} W/kg`;
export const percent = (share) => `${rounded(100 * share, 0)} %`;

/** A probability in whole per cent; one that is neither 0 nor 1 is not written as such. */
export function chance(p) {
  if (p > 0 && p < 0.005) return "under 1 %";
  if (p < 1 && p >= 0.995) return "over 99 %";
  return percent(p);
}

/** A gradient in per cent to a tenth of a point. */
export function gradient(pct) {
  pct = round(pct * 10) / 10;
  return pct < 0 ? `−${rounded(-pct, 1)} %` : `${rounded(pct, 1)} %`;
}

/** A probability in per cent, with a decimal where it has one. */
export const certainty = (pct) => `${number(pct, 1)} %`;

/** An energy in kcal, a rough figure, to ten. */
export const kilocalories = (kcal) => `${rounded(round(kcal / 10) * 10, 0)} kcal`;

/** An amount of food in g, a rough figure, to five. */
export const grams = (g) => `${rounded(round(g / 5) * 5, 0)} g`;

/** Things as a person lists them: "a, b and c". */
export function list(...things) {
  return things.length < 2 ? things.join("") : `${things.slice(0, -1).join(", ")} and ${things.at(-1)}`;
}

const tens = (v) => (v < 9.5 ? rounded(v, 0) : rounded(round(round(v * 1e6) / 1e7) * 10, 0));

/** Counts the hundredths of the long unit in a length. */
const hundredths = (m, longM) => round((round((m / longM) * 1e6) / 1e6) * 100);

/** The units that people read: metric, or imperial. */
export function unitsOf(name) {
  const imperial = name === "imperial";
  const longM = imperial ? metresPerMile : 1000;
  const shortM = imperial ? metresPerFoot : 1;
  const long = imperial ? "miles" : "km";
  const short = imperial ? "ft" : "m";
  const bare = (m) => rounded(m / longM, 1);
  return {
    imperial, long, longM, short, shortM, bare,
    length(m) {
      const miles = m / metresPerMile;
      if (imperial && m < 300) return `${tens(m / metresPerFoot)} ft`;
      if (imperial && miles < 0.995) return `${rounded(miles, 2)} miles`;
      if (!imperial && m < 995 - 5e-7) return `${tens(m)} m`;
      return `${bare(m)} ${long}`;
    },
    covered: (m) => rounded(m / longM, 2),
    toGo: (lengthM, atM) => rounded((hundredths(lengthM, longM) - hundredths(atM, longM)) / 100, 2),
    height: (m) => `${rounded(m / shortM, 0)} ${short}`,
    fine: (m) => `${rounded(m / shortM, 1)} ${short}`,
    speed: (mps) => (imperial ? `${rounded((mps * 3600) / metresPerMile, 1)} mph` : `${rounded(mps * 3.6, 1)} km/h`),
    mass: (kg) => (imperial ? `${rounded(kg / kgPerPound, 0)} lb` : `${rounded(kg, 0)} kg`),
    radius: (m) => (imperial ? `${rounded(Math.max(round(m / metresPerFoot / 10), 1) * 10, 0)} ft` : `${rounded(Math.max(round(m / 5), 1) * 5, 0)} m`),
    drink: (l) => (imperial ? `${rounded(l / litresPerFluidOunce, 0)} fl oz` : `${rounded(l, 1)} l`),
    kgPerMass: imperial ? kgPerPound : 1,
    massUnit: imperial ? "lb" : "kg",
    speedUnit: imperial ? "mph" : "km/h",
    mpsPerSpeed: imperial ? metresPerMile / 3600 : 1 / 3.6,
  };
}
