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
