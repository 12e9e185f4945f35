// How values are said: numbers with their unit, times, ages; the same rules as the letters follow.

/** @typedef {{met_low: number?, met_high: number?, border_low: number?, border_high: number?}} Band */

function digits(/** @type {number} */ value, n = 3) {
  if (value === 0) return "0";
  if (Math.abs(value) >= 10 ** n) return value.toFixed(0);
  return String(Number(value.toPrecision(n)));
}

/** A number with its unit as a reader says it: shares as per cent, no needless digits. */
export function number(/** @type {number} */ value, unit = "", n = 3) {
  if (unit === "yes/no") return value >= 0.5 ? "yes" : "no";
  if (unit === "fraction") return `${Math.abs(value) < 0.1 ? digits(100 * value, 2) : (100 * value).toFixed(0)} %`;
  if (unit === "index") return `index ${digits(value, n)}`;
  const said = digits(value, n);
  if (unit === "" || unit === "1") return said;
  return `${said} ${said === "1" ? unit.replace(/^(beat|frame|mark|point)s$/, "$1") : unit}`;
}

/** The value of a finding with its uncertainty, or a dash. */
export function findingValue(/** @type {any} */ finding) {
  if (finding.value === null || finding.value === undefined) return "–";
  const text = number(finding.value, finding.unit);
  if (!finding.uncertainty || finding.unit === "yes/no") return text;
  if (finding.unit === "fraction") return `${text.replace(/ %$/, "")} ± ${number(finding.uncertainty, "fraction")}`;
  return `${number(finding.value)} ± ${number(finding.uncertainty, finding.unit === "index" ? "" : finding.unit, 2)}`;
}

/** The target band in words. */
export function target(/** @type {Band} */ band, unit = "") {
  if (unit === "yes/no") return "yes";
  const share = unit === "fraction";
  const tail = share ? " %" : unit && unit !== "1" && unit !== "index" ? ` ${unit}` : "";
  const said = (/** @type {number} */ v) => digits(share ? 100 * v : v);
  if (band.met_low !== null && band.met_high !== null) return `${said(band.met_low)} to ${said(band.met_high)}${tail}`;
  if (band.met_low !== null) return `at least ${said(band.met_low)}${tail}`;
  if (band.met_high !== null) return `at most ${said(band.met_high)}${tail}`;
  return "any";
}

/** How likely, as a reader says it; what is nearly sure is not called sure. @param {number} share 0 to 1 */
export const percent = (share) => `${Math.min(Math.round(100 * share), 99)} %`;

/** "1 clip", "3 clips". */
export function count(/** @type {number} */ n, /** @type {string} */ one, many = `${one}s`) {
  return `${n} ${n === 1 ? one : many}`;
}

/** How long ago, coarsely: "4 min", "2 h", "3 d". */
export function age(/** @type {string} */ iso, now = Date.now()) {
  const minutes = Math.max(0, Math.round((now - Date.parse(iso)) / 60000));
  if (minutes < 1) return "just now";
  if (minutes < 60) return `${minutes} min`;
  if (minutes < 48 * 60) return `${Math.round(minutes / 60)} h`;
  return `${Math.round(minutes / 1440)} d`;
}

/** The day of a moment: "3 March 2026". */
export function day(/** @type {string} */ iso) {
  return new Date(iso).toLocaleDateString("en-GB", { day: "numeric", month: "long", year: "numeric" });
}

/** Bytes as a person says them. */
export function bytes(/** @type {number} */ n) {
  if (n < 1e6) return `${Math.max(1, Math.round(n / 1e3))} kB`;
  return n < 1e9 ? `${(n / 1e6).toFixed(n < 1e7 ? 1 : 0)} MB` : `${(n / 1e9).toFixed(1)} GB`;
}

/** @type {Record<string, string>} */
export const MODE_WORDS = {
  two_d: "2-D",
  colour: "colour Doppler",
  power: "power Doppler",
  pulsed_wave: "pulsed-wave Doppler",
  continuous_wave: "continuous-wave Doppler",
  tissue_doppler: "tissue Doppler",
  m_mode: "M-mode",
  dual: "two pictures side by side",
  no_contact: "no patient contact",
  not_echo: "not an ultrasound picture",
};

/** The first letter large. */
export function capital(/** @type {string} */ text) {
  return text.slice(0, 1).toUpperCase() + text.slice(1);
}
