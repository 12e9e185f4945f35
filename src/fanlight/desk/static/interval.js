// A measured number against the limits of a reference row: a filled bar is a reference interval, an outline another limit.
import { html } from "./html.js";
import { valueWords } from "./numbers.js";

const WIDTH = 120;

/** @typedef {{lower: number | null, upper: number | null, repeat: number[] | null, isInterval: boolean}} Limits `repeat`: where a repeated scan may fall */

/** The stretch of numbers shown. @param {number} value @param {Limits} limits @returns {[number, number]} */
export function stretch(value, { lower, upper, repeat }) {
  const known = [lower, upper].filter((each) => each !== null);
  const all = [value, .../** @type {number[]} */ (known), ...(repeat ?? [])];
  const [low, high] = [Math.min(...all), Math.max(...all)];
  const reach = Math.max(high - low, 0.35 * Math.abs(known[0] ?? value), 1e-9);
  return [low - 0.2 * reach, high + 0.2 * reach];
}

/** @param {{item: any, limits: Limits, words: string}} props */
export function IntervalDrawing({ item, limits, words }) {
  const { value, uncertainty } = item;
  const { lower, upper, repeat, isInterval } = limits;
  const [low, high] = stretch(value, limits);
  const x = (/** @type {number} */ v) => 2 + (WIDTH - 4) * Math.min(Math.max((v - low) / (high - low), 0), 1);
  const [left, right] = [lower === null ? 2 : x(lower), upper === null ? WIDTH - 2 : x(upper)];
  const isIn = (lower === null || value >= lower) && (upper === null || value <= upper);
  return html`<svg class="band interval ${isIn ? "in" : "out"}" viewBox="0 0 ${WIDTH} 20" role="img" aria-label=${`${valueWords(item)}: ${words}`}>
    <path class="line" d="M2 10H${WIDTH - 2}" />
    <rect class=${isInterval ? "met" : "other"} x=${left} y="5.5" width=${Math.max(right - left, 0.5)} height="9" />
    ${repeat ? html`<path class="repeat" d="M${x(repeat[0])} 7V13M${x(repeat[0])} 10H${x(repeat[1])}M${x(repeat[1])} 7V13" />` : null}
    ${uncertainty && !repeat ? html`<path class="whisker" d="M${x(value - uncertainty)} 10H${x(value + uncertainty)}" />` : null}
    <path class="mark" d="M${x(value)} 1.5V18.5" />
    <circle class="mark-head" cx=${x(value)} cy="10" r="3.4" />
  </svg>`;
}
