// A movement of the probe as the letter shows it: drawn on the chest, and the view before and after it, simulated.
import { get } from "./api.js";
import { html, useSignal } from "./html.js";
import { page } from "./model.js";

/** @typedef {{part: string, path: string}} Stroke */
/** @typedef {{x: number, y: number, text: string, anchor: string}} Label */
/** @typedef {{width: number, height: number, strokes: Stroke[], labels: Label[], title: string, words: string}} Sketch */
/** @typedef {{source: string, caption: string, alt: string}} Picture */
/** @typedef {{sketches: Sketch[], pictures: Picture[], note: string}} Shown */

const WAITS = "They are being drawn …";
const FAILED = "They could not be drawn now: close this and open it again.";

/** Strokes and words, so that each theme gives them its own ink. @param {{item: Sketch}} props */
function Drawn({ item }) {
  return html`<figure class="sketch">
    <svg viewBox=${`0 0 ${item.width} ${item.height}`} role="img" aria-label=${`${item.title}. ${item.words}`}>
      ${item.strokes.map((each, n) => html`<path key=${n} class=${each.part} d=${each.path} />`)}
      ${item.labels.map((each) => html`<text key=${each.text} x=${each.x} y=${each.y} text-anchor=${each.anchor}>${each.text}</text>`)}
    </svg>
    <figcaption>${item.title}.</figcaption>
  </figure>`;
}

/** @param {{shown: Shown}} props */
function Pictures({ shown }) {
  return html`<div class="moved">
      ${shown.sketches.map((item) => html`<${Drawn} key=${item.title} item=${item} />`)}
      ${shown.pictures.map(
        (each) =>
          html`<figure key=${each.caption}><img src=${each.source} alt=${each.alt} /><figcaption>${each.caption}</figcaption></figure>`,
      )}
    </div>
    ${shown.sketches.length > 0 ? html`<p class="quiet">Solid: as it stood. Dashed: the way to go, not its size. Dot: marker.</p>` : null}
    <p class="quiet">${shown.note}</p>`;
}

/** Asked for when it is opened: a pair takes a second or two the first time. @param {{cause: string}} props */
export function Movement({ cause }) {
  const shown = useSignal(/** @type {Shown | null} */ (null));
  const says = useSignal(WAITS);
  const open = async (/** @type {any} */ event) => {
    if (!event.currentTarget.open || shown.value !== null) return;
    says.value = WAITS;
    try {
      shown.value = await get(`/api/studies/${page.value.id}/changes/${cause}/pictures`);
    } catch {
      says.value = FAILED;
    }
  };
  return html`<details class="movement" onToggle=${open}>
    <summary>how to move, and what changes</summary>
    ${shown.value === null ? html`<p class="quiet" role="status">${says.value}</p>` : html`<${Pictures} shown=${shown.value} />`}
  </details>`;
}
