// The ladder of each valve: 2-D, colour, PW, CW from left to right. Shape carries the meaning, as in the fan.
import { RUNGS, rungWords } from "./fan.js";
import { html, useSignal } from "./html.js";
import { choose, clipKey, clips, page, told } from "./model.js";
import { clipsWait, left } from "./unplaced.js";

/** @typedef {{valve: string, states: [string, string][], notes: string[]}} Ladder */
/** @typedef {Record<string, number[]>} Numbers of clips, by rung */

const WIDE = 12;
const TOP = 3;
const HIGH = 10;

/** One rung between the rails. @param {string} state @param {number} left */
function rung(state, left) {
  const box = { x: left, y: TOP, width: WIDE, height: HIGH };
  if (state === "diagnostic") return html`<rect class="full" ...${box} />`;
  if (state === "limited") {
    const slants = [2, 6, 10].map((x) => `M${left + x - 2} ${TOP + HIGH}L${left + x + 2} ${TOP}`).join("");
    return html`<path class="rays" d=${slants} /><rect class="rim" ...${box} />`;
  }
  if (state === "non-diagnostic")
    return [2, 6, 10].map((x) => html`<circle class="weak" key=${x} cx=${left + x} cy=${TOP + HIGH / 2} r="1.7" />`);
  if (state === "asked for and missing") return html`<rect class="hollow" ...${box} />`;
  return null;
}

/** @param {{states: [string, string][]}} props */
function Drawing({ states }) {
  const said = new Map(states);
  return html`<svg class="rungs" viewBox="0 0 64 16" aria-hidden="true">
    <path class="rails" d="M0 1H64M0 15H64" />
    ${RUNGS.map((name, n) => html`<g key=${name}>${rung(said.get(name) ?? "not asked for", 3.5 + 15 * n)}</g>`)}
  </svg>`;
}

/**
 * What a ladder says: "mitral valve: 2-D diagnostic (clips 1, 3); colour asked for and missing".
 * @param {Ladder} ladder @param {Numbers} numbers @param {boolean} [isEarly] whether clips of the study are not placed yet
 */
export function ladderWords(ladder, numbers, isEarly = false) {
  const said = ladder.states
    .filter(([, state]) => state !== "not asked for")
    .map(([name, state]) => {
      const here = numbers[name] ?? [];
      const where = here.length ? ` (${here.length === 1 ? "clip" : "clips"} ${here.join(", ")})` : "";
      return `${name} ${rungWords(state, isEarly)}${where}`;
    });
  return `${ladder.valve} valve: ${said.join("; ") || "nothing asked for"}`;
}

/** The clips at a valve by rung. @param {string} valve @returns {Record<string, any[]>} */
function clipsAt(valve) {
  /** @type {Record<string, string[]>} */
  const keys = page.value?.review?.ladder_clips?.[valve] ?? {};
  const byKey = new Map(clips.value.map((each) => [each.key, each]));
  return Object.fromEntries(
    Object.entries(keys).map(([name, found]) => [name, found.map((key) => byKey.get(key)).filter(Boolean)]),
  );
}

/** The next clip of a valve in the order of its rungs, the first after the last. @param {string[]} keys @param {string} now */
export function nextOf(keys, now) {
  return keys[(keys.indexOf(now) + 1) % keys.length] ?? "";
}

/** @param {Ladder} ladder */
function show(ladder) {
  const here = clipsAt(ladder.valve);
  const keys = [...new Set(RUNGS.flatMap((name) => (here[name] ?? []).map((each) => each.key)))];
  const next = nextOf(keys, clipKey.value);
  if (next) choose(next);
  else told.value = `No clip of the ${ladder.valve} valve is placed yet.`;
}

/** @param {{ladder: Ladder, words: string, hasClips: boolean}} props */
function Row({ ladder, words, hasClips }) {
  const isShown = useSignal(false);
  const set = (/** @type {boolean} */ now) => () => {
    isShown.value = now;
  };
  const n = clipsWait.value ? left.value.length : 0;
  const hide = (/** @type {KeyboardEvent} */ event) => {
    if (event.key !== "Escape" || !isShown.value) return;
    event.preventDefault(); // it closes what it says, and leaves the study open
    isShown.value = false;
  };
  return html`<li onMouseEnter=${set(true)} onMouseLeave=${set(false)}>
    <button aria-label=${words} aria-describedby=${isShown.value ? `rungs-${ladder.valve}` : null}
      onFocus=${set(true)} onBlur=${set(false)} onKeyDown=${hide} onClick=${() => show(ladder)}>
      <span>${ladder.valve}</span><${Drawing} states=${ladder.states} />
    </button>
    ${
      isShown.value
        ? html`<div class="ladder-words">
          <p>${words}.</p>
          <div id=${`rungs-${ladder.valve}`}>
            ${ladder.notes.map((note) => html`<p key=${note}>${note}</p>`)}
            ${n ? html`<p class="quiet">${n} not placed yet: what is missing may be among them.</p>` : null}
            ${hasClips ? html`<p class="quiet">Chosen, it shows the clips of this valve in turn.</p>` : null}
          </div>
        </div>`
        : null
    }
  </li>`;
}

export function Ladders() {
  /** @type {Ladder[]} */
  const ladders = page.value?.review?.coverage?.ladders ?? [];
  if (ladders.length === 0) return null;
  return html`<section class="ladders" aria-label="Rungs by valve: 2-D, colour, PW, CW">
    <h2>valves</h2>
    <ul>
      ${ladders.map((ladder) => {
        const numbers = Object.fromEntries(
          Object.entries(clipsAt(ladder.valve)).map(([name, found]) => [name, found.map((each) => each.number)]),
        );
        return html`<${Row} key=${ladder.valve} ladder=${ladder} words=${ladderWords(ladder, numbers, clipsWait.value)}
          hasClips=${Object.keys(numbers).length > 0} />`;
      })}
    </ul>
  </section>`;
}
