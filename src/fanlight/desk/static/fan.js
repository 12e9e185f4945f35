// The fan: one sector, four arcs from the apex outward, one a rung. Shape carries the meaning, colour only repeats it.
import { html } from "./html.js";

/** @typedef {[rung: string, state: string]} RungState */

export const RUNGS = ["2-D", "colour", "PW", "CW"];
const APEX = [50, 6];
const HALF_DEG = 42;
const INNER = [14, 34, 54, 74];
const THICK = 14;

function at(/** @type {number} */ radius, /** @type {number} */ deg) {
  const angle = (deg * Math.PI) / 180;
  return [APEX[0] + radius * Math.sin(angle), APEX[1] + radius * Math.cos(angle)].map((v) => v.toFixed(2));
}

function band(/** @type {number} */ inner) {
  const outer = inner + THICK;
  const [a, b, c, d] = [at(inner, -HALF_DEG), at(inner, HALF_DEG), at(outer, HALF_DEG), at(outer, -HALF_DEG)];
  return `M${a.join(" ")}A${inner} ${inner} 0 0 0 ${b.join(" ")}L${c.join(" ")}A${outer} ${outer} 0 0 1 ${d.join(" ")}Z`;
}

function rays(/** @type {number} */ inner) {
  let path = "";
  for (let step = -7; step < 8; step += 2) {
    const deg = (HALF_DEG * step) / 8;
    path += `M${at(inner, deg).join(" ")}L${at(inner + THICK, deg).join(" ")}`;
  }
  return path;
}

function dots(/** @type {number} */ inner) {
  const middle = inner + THICK / 2;
  const n = Math.max(3, Math.round((((2 * HALF_DEG * Math.PI) / 180) * middle) / 9));
  return Array.from({ length: n }, (_, place) => {
    const reach = HALF_DEG * (1 - 1 / n);
    const [x, y] = at(middle, -reach + (2 * reach * place) / (n - 1));
    return html`<circle class="weak" key=${place} cx=${x} cy=${y} r="2.9" />`;
  });
}

function arc(/** @type {string} */ state, /** @type {number} */ inner) {
  if (state === "diagnostic") return html`<path class="full" d=${band(inner)} />`;
  if (state === "limited") return html`<path class="rays" d=${rays(inner)} /><path class="rim" d=${band(inner)} />`;
  if (state === "non-diagnostic") return dots(inner);
  if (state === "asked for and missing") return html`<path class="hollow" d=${band(inner)} />`;
  return null;
}

const MISSING = "asked for and missing";
const NOTHING_YET = "nothing placed yet";

/** How good a rung is, in words: while clips wait for their place, none of them is called missing. @param {string} state @param {boolean} clipsWait */
export const rungWords = (state, clipsWait) => (clipsWait && state === MISSING ? NOTHING_YET : state);

/**
 * What a fan says, for those who cannot see it.
 * @param {string} title @param {RungState[]} states @param {boolean} [clipsWait] whether clips of the study are not placed yet
 */
export function fanWords(title, states, clipsWait = false) {
  const asked = states.filter(([, state]) => state !== "not asked for");
  if (clipsWait && asked.length && asked.every(([, state]) => state === MISSING))
    return `${title}: ${NOTHING_YET}; asked for: ${asked.map(([rung]) => rung).join(", ")}`;
  const said = asked.map(([rung, state]) => `${rung} ${rungWords(state, clipsWait)}`);
  return `${title}: ${said.join("; ") || "nothing asked for"}`;
}

const EDGES = `M${at(90, -HALF_DEG).join(" ")}L${APEX.join(" ")}L${at(90, HALF_DEG).join(" ")}`;

/** @param {{title: string, states: RungState[], quiet?: boolean, clipsWait?: boolean, isProposed?: boolean}} props `quiet`: its words stand beside it already; `isProposed`: nobody confirmed any clip of it */
export function Fan({ title, states, quiet = false, clipsWait = false, isProposed = false }) {
  const byRung = new Map(states);
  const words = fanWords(title, states, clipsWait);
  const said = quiet ? { "aria-hidden": "true" } : { role: "img", "aria-label": words };
  return html`<svg class="fan" viewBox="-14 0 128 100" ...${said}>
    <path class=${isProposed ? "edge proposed" : "edge"} d=${EDGES} />
    ${RUNGS.map((rung, n) => html`<g key=${rung}>${arc(byRung.get(rung) ?? "not asked for", INNER[n])}</g>`)}
  </svg>`;
}

export const FAN_KEY =
  "Arcs from the tip outward: 2-D, colour, PW, CW. Solid: diagnostic. Rays: limited. Dots: non-diagnostic. " +
  "Hollow: asked for and missing, or not placed yet while clips wait. No arc: not asked for.";
