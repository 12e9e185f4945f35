// The examination path: the plan's views in order, a fan each; what is in each step; what is not placed yet at the end.
import { Fan, fanWords } from "./fan.js";
import { html, useSignal } from "./html.js";
import { Ladders } from "./ladders.js";
import { choose, clipKey, clips, needsDecision, page, readingOf, say, steps, titleOf, viewOf } from "./model.js";
import { placeIn } from "./placing.js";
import { confirmAll, proposed } from "./proposals.js";
import { clipsWait, left, outside } from "./unplaced.js";
import { count, MODE_WORDS, percent } from "./words.js";

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

/** A step with many clips scrolls; the one on the stage is in sight. @param {HTMLElement | null} tile */
const showTile = (tile) => tile?.scrollIntoView({ block: "nearest", inline: "nearest" });

/** @param {{clip: any}} props */
export function ClipTile({ clip }) {
  const reading = readingOf(clip.key);
  const isOpen = needsDecision(clip.key);
  const mode = reading?.mode?.mode ? MODE_WORDS[reading.mode.mode] : reading ? "mode not sure" : "not read yet";
  const { said, share } = viewOf(clip.key);
  const isProposed = said === "engine";
  const proposal = isProposed ? `, proposed, ${percent(share ?? 0)}` : "";
  const words = `Clip ${clip.number}, ${mode}${proposal}${isOpen ? ", needs a decision" : ", decided"}`;
  return html`<button
    class=${`tile ${isOpen ? "open" : "done"} ${reading ? "" : "unread"} ${isProposed ? "proposed" : ""}`}
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

/** Rungs of a step as the service weighed them last. */
function rungsOf(/** @type {any} */ step) {
  const weighed = page.value?.review?.coverage?.steps?.find((/** @type {any} */ each) => each.view === step.view);
  if (weighed) return weighed.states;
  return (step.asked ?? []).map((/** @type {string} */ rung) => [rung, "asked for and missing"]);
}

/** @param {{step: any, members: any[], isHere: boolean}} props */
function Step({ step, members, isHere }) {
  const isOver = useSignal(false);
  const states = rungsOf(step);
  const n = members.filter((each) => viewOf(each.key).said === "engine").length;
  const words = `${fanWords(step.title, states, clipsWait.value)}${n ? `; ${count(n, "clip")} proposed` : ""}`;
  return html`<li
    class=${`step ${isHere ? "here" : ""} ${members.length ? "" : "gap"} ${isOver.value ? "over" : ""}`}
    ...${dropOf(isOver, (key) => placeIn(key, step))}
  >
    <button
      class="put"
      aria-label=${`${step.letter ? `Key ${step.letter}. ` : ""}Place the clip here. ${words}`}
      title=${`${step.title}: place the clip on the stage here`}
      onClick=${() => placeIn(clipKey.value, step)}
    >
      <span class="letter">${step.letter}</span>
      <${Fan} title=${step.title} states=${states} quiet isProposed=${n > 0 && n === members.length} />
    </button>
    <span class="step-title">${step.short_title}</span>
    <span class="tiles">
      ${members.map((clip) => html`<${ClipTile} key=${clip.key} clip=${clip} />`)}
      ${members.length ? null : html`<span class="gap-word">${clipsWait.value ? "nothing placed yet" : "gap"}</span>`}
    </span>
  </li>`;
}

/** What one key confirms: as long as a view is proposed. */
function ConfirmAll() {
  const n = proposed().length;
  if (n === 0) return null;
  return html`<button class="small confirm-all" title="Shift Enter" onClick=${confirmAll}>confirm ${count(n, "proposed view")} <kbd>⇧ Enter</kbd></button>`;
}

function TakeOut() {
  const isOver = useSignal(false);
  const n = left.value.length;
  return html`<div
    class=${`unplaced ${isOver.value ? "over" : ""}`}
    ...${dropOf(isOver, (key) => say("take clip out", { clip: key }, key))}
  >
    <${ConfirmAll} />
    <h2>not placed yet${n ? ` (${n})` : ""}</h2>
    <span class="tiles">
      ${left.value.map((clip) => html`<${ClipTile} key=${clip.key} clip=${clip} />`)}
      ${n ? null : html`<span class="gap-word">none</span>`}
    </span>
    ${outside.value.map(
      ([view, members]) => html`<div class="outside" key=${view}>
        <h2>outside the plan: ${titleOf(view)}</h2>
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
