// A value drawn in its band: never a bare number.
import { html } from "./html.js";
import { findingValue, target } from "./words.js";

const WIDTH = 160;

/** The stretch of numbers shown: all limits and the value, with a margin. */
function axis(/** @type {number} */ value, /** @type {import("./words.js").Band} */ band) {
  const limits = [band.border_low, band.met_low, band.met_high, band.border_high].filter((v) => v !== null);
  const all = [value, .../** @type {number[]} */ (limits)];
  const [low, high] = [Math.min(...all), Math.max(...all)];
  const oneSided = band.met_low === null || band.met_high === null;
  const first = limits.length ? /** @type {number} */ (limits[0]) : value;
  const reach = Math.max(high - low, oneSided ? Math.abs(first) * 0.6 : 0, 1e-9);
  return [low - 0.15 * reach, high + 0.15 * reach];
}

/** @param {{finding: any}} props */
export function BandDrawing({ finding }) {
  const { value, band, verdict, uncertainty } = finding;
  if (value === null || finding.unit === "yes/no") return null;
  const [low, high] = axis(value, band);
  const x = (/** @type {number} */ v) => 2 + (WIDTH - 4) * Math.min(Math.max((v - low) / (high - low), 0), 1);
  const met = [band.met_low === null ? 2 : x(band.met_low), band.met_high === null ? WIDTH - 2 : x(band.met_high)];
  const words = `${findingValue(finding)}, target ${target(band, finding.unit)}: ${verdict}`;
  return html`<svg class="band ${verdict === "missed" ? "out" : "in"}" viewBox="0 0 ${WIDTH} 20" role="img" aria-label=${words}>
    <path class="line" d="M2 10H${WIDTH - 2}" />
    <rect class="met" x=${met[0]} y="5.5" width=${Math.max(met[1] - met[0], 0.5)} height="9" />
    <path class="limits" d=${limitsPath(band, x)} />
    <path class="border" d=${borders(band, x)} />
    ${uncertainty ? html`<path class="whisker" d="M${x(value - uncertainty)} 10H${x(value + uncertainty)}" />` : null}
    <path class="mark" d="M${x(value)} 1.5V18.5" />
    <circle class="mark-head" cx=${x(value)} cy="10" r="3.4" />
  </svg>`;
}

/** @param {any} band @param {(v: number) => number} x */
function limitsPath(band, x) {
  return [band.met_low, band.met_high]
    .filter((v) => v !== null)
    .map((v) => `M${x(v)} 4V16`)
    .join("");
}

/** The border zones as upright strokes. @param {any} band @param {(v: number) => number} x */
function borders(band, x) {
  let path = "";
  for (const [start, end] of [
    [band.border_low, band.met_low],
    [band.met_high, band.border_high],
  ]) {
    if (start === null || end === null || end <= start) continue;
    const [left, right] = [x(start), x(end)];
    const step = Math.max((right - left) / 6, 2.5);
    for (let at = left; at <= right + 0.01; at += step) path += `M${at.toFixed(1)} 6V14`;
  }
  return path;
}
