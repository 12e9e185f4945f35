// Notes of a ladder: each clip that a note speaks of is a button that shows it.
import { html } from "./html.js";
import { choose, clipKey, clips } from "./model.js";

/** @typedef {{key: string, number: number}} Numbered */
/** @typedef {{text: string, clip?: Numbered}} Piece */

// As the engine lists clips: "clip 4", "Clip 4, 6:".
const LISTED = /\b[Cc]lips? \d+(?:, \d+)*/g;

/**
 * A note in pieces, those that name a clip of the study with it; clips that a rule tells of and its words do not name
 * come last.
 * @param {string} note @param {{words: string, clips: string[]}[]} findings of the same ladder @param {Numbered[]} all
 * @returns {Piece[]}
 */
export function notePieces(note, findings, all) {
  /** @type {Piece[]} */
  const pieces = [];
  let at = 0;
  const plain = (/** @type {number} */ end) => {
    if (end > at) pieces.push({ text: note.slice(at, end) });
    at = end;
  };
  for (const listed of note.matchAll(LISTED)) {
    for (const number of listed[0].matchAll(/\d+/g)) {
      const clip = all.find((each) => each.number === Number(number[0]));
      if (!clip) continue;
      plain(listed.index + number.index);
      at += number[0].length;
      pieces.push({ text: number[0], clip });
    }
  }
  plain(note.length);
  const told = findings.find((each) => each.words === note)?.clips ?? [];
  const left = [...new Set(told)]
    .filter((key) => !pieces.some((each) => each.clip?.key === key))
    .flatMap((key) => all.find((each) => each.key === key) ?? []);
  for (const clip of left) pieces.push({ text: " " }, { text: String(clip.number), clip });
  return pieces;
}

/** @param {{note: string, findings: {words: string, clips: string[]}[]}} props */
export function LadderNote({ note, findings }) {
  return html`<p>${notePieces(note, findings, clips.value).map(({ text, clip }, place) =>
    clip
      ? html`<button key=${place} class="of-clip" aria-label=${`clip ${text}`} aria-current=${clip.key === clipKey.value ? "true" : null}
          onClick=${() => choose(clip.key)}>${text}</button>`
      : text,
  )}</p>`;
}
