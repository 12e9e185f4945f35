// The examination path: the plan's views in order, a fan each; what is in each step; what is not placed yet at the end.
import { Fan, fanWords } from "./fan.js";
import { html, useSignal } from "./html.js";
import { Ladders } from "./ladders.js";
import {
  choose,
  clipKey,
  clips,
  needsDecision,
  page,
  readingOf,
  rungsOf,
  say,
  state,
  steps,
  titleOf,
  told,
  viewOf,
} from "./model.js";
import { clipsWait, left, outside } from "./unplaced.js";
import { MODE_WORDS } from "./words.js";

/** How the house calls a window. */
const windowWords = (/** @type {string} */ key) => page.value?.words?.windows?.[key] ?? key;

const CLIP_KIND = "text/x-fanlight-clip"; // of what is dragged

/** What makes a place take a dragged clip. @param {{value: boolean}} isOver @param {(key: string) => void} take */
const dropOf = (isOver, take) => ({
  onDragOver: (/** @type {DragEvent} */ event) => {
    if (!event.dataTransfer?.types.includes(CLIP_KIND)) return;
    event.preventDefault();
    isOver.value = true;
  },
  onDragLeave: () => {
    isOver.value = false;
  },
  onDrop: (/** @type {DragEvent} */ event) => {
    event.preventDefault();
    isOver.value = false;
    const key = event.dataTransfer?.getData(CLIP_KIND);
    if (key) take(key);
  },
});

/** @type {Record<string, string>} */
const RUNG_OF = { colour: "colour", power: "colour", pulsed_wave: "PW", continuous_wave: "CW" };
const FLOW = new Set(["colour", "power", "pulsed_wave", "continuous_wave", "tissue_doppler"]);

/** The valve of a clip, as the mentor or the file says; null: nobody did. @param {string} key @returns {string | null} */
export function valveOf(key) {
  const put = state.value.placements[key];
  return put ? (put.valve ?? null) : (page.value?.review?.views?.[key]?.valve ?? readingOf(key)?.view?.valve ?? null);
}

/** Whether a clip shows flow or movement by Doppler. @param {string | undefined} key */
export const isFlow = (key) => Boolean(key) && FLOW.has(readingOf(key ?? "")?.mode?.mode);

/** Valves that a Doppler clip of this view may be about; none for a picture without flow. @param {string} key @param {string} view @returns {string[]} */
export function valvesFor(key, view) {
  return isFlow(key) ? (page.value?.plan?.views?.[view]?.valves ?? []) : [];
}

/** The valve that a Doppler clip is taken to be about when it comes into a view: the only one that can be, else none yet. @param {string} key @param {string} view @returns {string | null} */
function valveAtFirst(key, view) {
  const rung = RUNG_OF[readingOf(key)?.mode?.mode];
  const able = rung ? (page.value?.plan?.views?.[view]?.serves?.[rung] ?? []) : valvesFor(key, view);
  const known = valveOf(key);
  if (known !== null && able.includes(known)) return known;
  return able.length === 1 ? able[0] : null;
}

/** The valve that the letter says when it is pressed again: the next one of the view. @param {string[]} valves @param {string | null} now */
export const nextValve = (valves, now) => valves[(now === null ? 0 : valves.indexOf(now) + 1) % valves.length] ?? null;

/** Put a clip into a step. @param {string} key @param {any} step */
export function placeIn(key, step) {
  if (!key) return false;
  const valves = valvesFor(key, step.view);
  const isAgain =
    valves.length > 1 && viewOf(key).view === step.view && state.value.placements[key]?.view === step.view;
  const valve = isAgain ? nextValve(valves, valveOf(key)) : valveAtFirst(key, step.view);
  const done = say("place clip", { clip: key, view: step.view, valve }, key);
  const number = clips.value.find((each) => each.key === key)?.number;
  if (!done) return done;
  const which = valve ? `, ${valve} valve` : "";
  const more = valves.length > 1 && step.letter ? ` ${step.letter} again: ${nextValve(valves, valve)} valve.` : "";
  told.value = `Clip ${number} is in ${step.letter ? `${step.letter}, ` : ""}${step.title}${which}.${more}`;
  return done;
}

/** A step with many clips scrolls; the one on the stage is in sight. @param {HTMLElement | null} tile */
const showTile = (tile) => tile?.scrollIntoView({ block: "nearest", inline: "nearest" });

/** @param {{clip: any}} props */
export function ClipTile({ clip }) {
  const reading = readingOf(clip.key);
  const isOpen = needsDecision(clip.key);
  const mode = reading?.mode?.mode ? MODE_WORDS[reading.mode.mode] : reading ? "mode not sure" : "not read yet";
  const words = `Clip ${clip.number}, ${mode}${isOpen ? ", needs a decision" : ", decided"}`;
  return html`<button
    class=${`tile ${isOpen ? "open" : "done"} ${reading ? "" : "unread"}`}
    aria-current=${clip.key === clipKey.value ? "true" : null}
    ref=${clip.key === clipKey.value ? showTile : null}
    aria-label=${words}
    title=${words}
    draggable="true"
    onDragStart=${(/** @type {DragEvent} */ event) => event.dataTransfer?.setData(CLIP_KIND, clip.key)}
    onClick=${() => choose(clip.key)}
  >
    ${clip.number}
  </button>`;
}

/** @param {{step: any, members: any[], isHere: boolean}} props */
function Step({ step, members, isHere }) {
  const isOver = useSignal(false);
  const states = rungsOf(step);
  return html`<li
    class=${`step ${isHere ? "here" : ""} ${members.length ? "" : "gap"} ${isOver.value ? "over" : ""}`}
    ...${dropOf(isOver, (key) => placeIn(key, step))}
  >
    <button
      class="put"
      aria-label=${`${step.letter ? `Key ${step.letter}. ` : ""}Place the clip here. ${fanWords(step.title, states, clipsWait.value)}`}
      title=${`${step.title}: place the clip on the stage here`}
      onClick=${() => placeIn(clipKey.value, step)}
    >
      <span class="letter">${step.letter}</span>
      <${Fan} title=${step.title} states=${states} quiet />
    </button>
    <span class="step-title">${step.short_title}</span>
    <span class="tiles">
      ${members.map((clip) => html`<${ClipTile} key=${clip.key} clip=${clip} />`)}
      ${members.length ? null : html`<span class="gap-word">${clipsWait.value ? "nothing placed yet" : "gap"}</span>`}
    </span>
  </li>`;
}

function TakeOut() {
  const isOver = useSignal(false);
  const n = left.value.length;
  return html`<div
    class=${`unplaced ${isOver.value ? "over" : ""}`}
    ...${dropOf(isOver, (key) => say("take clip out", { clip: key }, key))}
  >
    <h2>not placed yet${n ? ` (${n})` : ""}</h2>
    <span class="tiles">
      ${left.value.map((clip) => html`<${ClipTile} key=${clip.key} clip=${clip} />`)}
      ${n ? null : html`<span class="gap-word">none</span>`}
    </span>
    ${outside.value.map(
      ([view, members]) => html`<div class="outside" key=${view}>
        <h2>placed outside the plan: ${titleOf(view)}</h2>
        <span class="tiles">${members.map((clip) => html`<${ClipTile} key=${clip.key} clip=${clip} />`)}</span>
      </div>`,
    )}
  </div>`;
}

export function Path() {
  const here = viewOf(clipKey.value).view;
  /** @type {{name: string, steps: any[]}[]} */
  const groups = [];
  for (const step of steps.value) {
    const last = groups[groups.length - 1];
    if (last?.name === step.window) last.steps.push(step);
    else groups.push({ name: step.window, steps: [step] });
  }
  const inside = (/** @type {any} */ step) => clips.value.filter((clip) => viewOf(clip.key).view === step.view);
  return html`<nav class="path" aria-label="Examination path" data-region tabindex="-1">
    <div class="groups">
      ${groups.map(
        (group, n) => html`<section key=${n} aria-label=${windowWords(group.name)}>
          <h2>${windowWords(group.name)}</h2>
          <ol>
            ${group.steps.map(
              (step) =>
                html`<${Step} key=${step.view} step=${step} members=${inside(step)} isHere=${step.view === here} />`,
            )}
          </ol>
        </section>`,
      )}
    </div>
    <${Ladders} />
    <${TakeOut} />
  </nav>`;
}
