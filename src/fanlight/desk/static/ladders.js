// The ladder of each valve: 2-D, colour, PW, CW from left to right. Shape carries the meaning, as in the fan; each rung
// leads to the clip that gives it.
import { RUNGS, rungWords } from "./fan.js";
import { html, useSignal } from "./html.js";
import { LadderNote } from "./ladder_notes.js";
import { choose, clipKey, clips, page, told } from "./model.js";
import { clipsWait, left } from "./unplaced.js";
import { capital } from "./words.js";

/** @typedef {{valve: string, states: [string, string][], notes: string[], findings?: {words: string, clips: string[]}[]}} Ladder */
/** @typedef {Record<string, number[]>} Numbers of clips, by rung */

const BOX = { x: 6, y: 3, width: 12, height: 10 };
const MIDDLES = [8, 12, 16];
const MISSING = "asked for and missing";

/** One rung between the rails. @param {string} state */
function drawn(state) {
  if (state === "diagnostic") return html`<rect class="full" ...${BOX} />`;
  if (state === "limited") {
    const slants = MIDDLES.map((x) => `M${x - 2} ${BOX.y + BOX.height}L${x + 2} ${BOX.y}`).join("");
    return html`<path class="rays" d=${slants} /><rect class="rim" ...${BOX} />`;
  }
  if (state === "non-diagnostic")
    return MIDDLES.map((x) => html`<circle class="weak" key=${x} cx=${x} cy="8" r="1.7" />`);
  if (state === MISSING) return html`<rect class="hollow" ...${BOX} />`;
  return null;
}

/** @param {{state: string}} props */
const Drawing = ({ state }) => html`<svg viewBox="0 0 24 16" aria-hidden="true">
  <path class="rails" d="M0 1H24M0 15H24" />${drawn(state)}
</svg>`;

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

/** Put the next of some clips on the stage. @param {any[]} found @param {string} otherwise what is said where there is none */
function show(found, otherwise) {
  const next = nextOf([...new Set(found.map((each) => each.key))], clipKey.value);
  if (next) choose(next);
  else told.value = otherwise;
}

/**
 * Why a rung is missing: "the plan asks for it in “Long axis”, and no clip of it is stored".
 * @param {string[]} views titles of the views in which the plan asks for it @param {number} n clips that wait for their place
 */
export function missingBecause(views, n) {
  const asked = views.length
    ? `the plan asks for it in ${views.map((each) => `“${each}”`).join(" and ")}`
    : "it is asked for";
  if (n === 0) return `${asked}, and no clip of it is stored`;
  return `${asked}; no clip of it is placed yet, and ${n === 1 ? "one waits for its place" : `${n} wait for their place`}`;
}

const nWaiting = () => (clipsWait.value ? left.value.length : 0);

/** @param {string} valve @param {string} name of the rung */
const whyMissing = (valve, name) => missingBecause(page.value?.review?.ladder_asked?.[valve]?.[name] ?? [], nWaiting());

/**
 * What a clip gives: "colour at the pulmonic valve", "" for nothing.
 * @param {Record<string, Record<string, string[]>>} rungs clips by valve and rung, the one that gives it first
 * @param {string} key of the clip @param {(key: string) => string} numberOf @param {boolean} isSaid whether somebody said the valve
 */
export function givesWords(rungs, key, numberOf, isSaid) {
  const here = Object.entries(rungs).flatMap(([valve, names]) =>
    Object.entries(names)
      .filter(([, keys]) => keys.includes(key))
      .map(([name, keys]) => ({ valve, name, first: keys[0] })),
  );
  if (here.length === 0) return "";
  const { name, first } = here[0];
  const valves = here.map((each) => each.valve).join(" and ");
  const others =
    here.every((each) => each.first === first) && first !== key ? `; clip ${numberOf(first)} shows it better` : "";
  const open = here.length > 1 && name !== "2-D" && !isSaid ? ", as long as nobody says which" : "";
  return `${name} at the ${valves} valve${here.length > 1 ? "s" : ""}${open}${others}`;
}

/** What the clip on the stage gives. @param {string} key @param {boolean} isSaid */
export function gives(key, isSaid) {
  const numberOf = (/** @type {string} */ one) => String(clips.value.find((each) => each.key === one)?.number ?? "");
  return givesWords(page.value?.review?.ladder_clips ?? {}, key, numberOf, isSaid);
}

/** One rung: pressed, it shows the clip that gives it. @param {{valve: string, name: string, state: string, found: any[], events: any}} props */
function RungButton({ valve, name, state, found, events }) {
  if (state === "not asked for" && found.length === 0)
    return html`<span class="rung"><${Drawing} state=${state} /></span>`;
  const isHere = found.some((each) => each.key === clipKey.value);
  const why = state === MISSING ? `: ${whyMissing(valve, name)}` : "";
  const where = found.length
    ? `, ${found.length === 1 ? "clip" : "clips"} ${found.map((each) => each.number).join(", ")}`
    : "";
  const words = `${name} at the ${valve} valve: ${rungWords(state, clipsWait.value)}${where}`;
  return html`<button class="rung" aria-label=${words} title=${`${words}${why}`} aria-current=${isHere ? "true" : null} ...${events}
    onClick=${() => show(found, `${capital(name)} at the ${valve} valve${why}.`)}><${Drawing} state=${state} /></button>`;
}

/** A press on the words takes the focus from no rung: they would close under it. @param {MouseEvent} event */
const keepFocus = (event) => event.preventDefault();

/** @param {{ladder: Ladder}} props */
function Row({ ladder }) {
  const isShown = useSignal(false);
  const set = (/** @type {boolean} */ now) => () => {
    isShown.value = now;
  };
  const found = clipsAt(ladder.valve);
  const numbers = Object.fromEntries(
    Object.entries(found).map(([name, all]) => [name, all.map((each) => each.number)]),
  );
  const words = ladderWords(ladder, numbers, clipsWait.value);
  const all = RUNGS.flatMap((name) => found[name] ?? []);
  const hide = (/** @type {KeyboardEvent} */ event) => {
    if (event.key !== "Escape" || !isShown.value) return;
    event.preventDefault(); // it closes what it says, and leaves the study open
    isShown.value = false;
  };
  // Focus that goes on to a clip in the words leaves them open.
  const leave = (/** @type {FocusEvent} */ event) => {
    const row = /** @type {Element} */ (event.currentTarget).closest("li");
    if (!row?.contains(/** @type {Node | null} */ (event.relatedTarget))) isShown.value = false;
  };
  const events = { onFocus: set(true), onBlur: leave, onKeyDown: hide };
  const missing = ladder.states.filter(([, state]) => state === MISSING).map(([name]) => name);
  return html`<li onMouseEnter=${set(true)} onMouseLeave=${set(false)}>
    <button class="valve" aria-label=${words} aria-describedby=${isShown.value ? `rungs-${ladder.valve}` : null} ...${events}
      onClick=${() => show(all, `No clip of the ${ladder.valve} valve is placed yet.`)}>${ladder.valve}</button>
    ${ladder.states.map(
      ([name, state]) =>
        html`<${RungButton} key=${name} valve=${ladder.valve} name=${name} state=${state} found=${found[name] ?? []} events=${events} />`,
    )}
    ${
      isShown.value
        ? html`<div class="ladder-words" onMouseDown=${keepFocus} onFocusOut=${leave} onKeyDown=${hide}>
          <p>${words}.</p>
          <div id=${`rungs-${ladder.valve}`}>
            ${missing.map((name) => html`<p key=${name} class="missing">${capital(name)}: ${whyMissing(ladder.valve, name)}.</p>`)}
            ${ladder.notes.map((note) => html`<${LadderNote} key=${note} note=${note} findings=${ladder.findings ?? []} />`)}
            ${all.length ? html`<p class="quiet">A rung shows the clip that gives it, the name of the valve its clips in turn.</p>` : null}
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
    <ul>${ladders.map((ladder) => html`<${Row} key=${ladder.valve} ladder=${ladder} />`)}</ul>
  </section>`;
}
