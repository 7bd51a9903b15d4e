// Millimetres inside, millimetres or inches to the eye.

export const INCH = 25.4;

/** @typedef {"mm" | "in"} Unit */

/**
 * A length as a person writes it.
 * @param {number} mm
 * @param {Unit} unit
 */
export function length(mm, unit) {
  return unit === "mm" ? trim(mm, 1) : trim(mm / INCH, 3);
}

/**
 * A measured length with as many digits as its ± deserves: "80.0 ±0.2", "803 ±3"; of one that is fixed, all it has.
 * @param {number} mm
 * @param {number} spread mm
 * @param {Unit} unit
 */
export function measured(mm, spread, unit) {
  const [k, most] = unit === "mm" ? [1, 3] : [1 / INCH, 4];
  if (!(spread > 0)) return String(Number((mm * k).toFixed(most)));
  let digits = 0;
  // 0.19 has two decimals, 0.21 one.
  for (let rest = spread * k; rest < 1.95 && digits < most; rest *= 10) digits += 1;
  return `${trim(mm * k, digits)} ±${(spread * k).toFixed(digits)}`;
}

/**
 * A small length (a move, a ±): one figure more.
 * @param {number} mm
 * @param {Unit} unit
 */
export function small(mm, unit) {
  return unit === "mm" ? trim(mm, 2) : trim(mm / INCH, 4);
}

/**
 * @param {number} radians
 */
export function degrees(radians) {
  return `${trim((radians * 180) / Math.PI, 2)}°`;
}

/**
 * What was typed, in mm; a fraction such as 3/16 or 1 1/2 and a unit after it are understood.
 * @param {string} text
 * @param {Unit} unit
 * @returns {number | null}
 */
export function parse(text, unit) {
  const found = /^\s*(?:(\d+)\s+)?(\d+)\s*\/\s*(\d+)\s*(mm|in|")?\s*$/.exec(text);
  const plain = /^\s*([+-]?\d*[.,]?\d+)\s*(mm|in|")?\s*$/.exec(text);
  const value = found
    ? Number(found[1] ?? 0) + Number(found[2]) / Number(found[3])
    : plain
      ? Number(plain[1].replace(",", "."))
      : Number.NaN;
  if (!Number.isFinite(value)) return null;
  const said = (found ? found[4] : plain?.[2]) ?? unit;
  return said === "mm" ? value : value * INCH;
}

/**
 * @param {number} seconds
 */
export function clock(seconds) {
  const whole = Math.round(seconds);
  const minutes = Math.floor(whole / 60);
  return minutes > 0 ? `${minutes} min ${String(whole % 60).padStart(2, "0")} s` : `${whole} s`;
}

/**
 * @param {number} value
 * @param {number} places
 */
function trim(value, places) {
  const text = value.toFixed(places);
  return Number(text) === 0 ? (0).toFixed(places) : text;
}
