// What the mentor adds: a phrase of the bank, which grows with use, or free words.
import { newId } from "./api.js";
import { callFor } from "./calls.js";
import { focusOnce } from "./focus.js";
import { html, useSignal } from "./html.js";
import { opened, page, say, state, viewOf } from "./model.js";
import { typedIn } from "./typed.js";

/** Phrases that fit the view and the animal's breathing and hold every word typed; those used in this study first, then those used most. @param {string} typed @param {string} view */
export function fittingPhrases(typed, view) {
  const words = typed.toLowerCase().split(/\s+/).filter(Boolean);
  const used = new Set(state.value.added.map((/** @type {any} */ each) => each.phrase));
  /** @param {any} each used in this study first, then what is used most */
  const weight = (each) => (used.has(each.key) ? 1e6 : 0) + (each.n_used ?? 0);
  const breathing = page.value?.study?.request?.breathing ?? "not_stated";
  return (page.value?.phrases ?? [])
    .filter((/** @type {any} */ each) => !each.withheld_when.includes(breathing))
    .filter((/** @type {any} */ each) => !each.view || each.view === view)
    .filter((/** @type {any} */ each) =>
      words.every((word) => `${each.words} ${each.about}`.toLowerCase().includes(word)),
    )
    .sort((/** @type {any} */ a, /** @type {any} */ b) => weight(b) - weight(a))
    .slice(0, 7);
}

/** @param {{clip: any}} props */
function Writing({ clip }) {
  const typed = typedIn(page.value.id, `finding ${clip.key}`, () => "");
  const at = useSignal(-1); // -1: the free words
  const found = fittingPhrases(typed.value, viewOf(clip.key).view);
  const add = (/** @type {string} */ words, phrase = "") => {
    if (!words.trim()) return;
    const finding = { finding: newId(), clip: clip.key, words: words.trim(), phrase, evidence: [] };
    if (!say("add finding", finding, clip.key)) return;
    typed.value = "";
    opened.value = "";
  };
  const press = (/** @type {KeyboardEvent} */ event) => {
    if (event.key === "ArrowDown") at.value = Math.min(at.value + 1, found.length - 1);
    else if (event.key === "ArrowUp") at.value = Math.max(at.value - 1, -1);
    else if (event.key === "Enter")
      add(at.value < 0 ? typed.value : found[at.value].words, at.value < 0 ? "" : found[at.value].key);
    else return;
    event.preventDefault();
  };
  return html`<div class="writing">
    <label class="field">in your words, or part of a phrase
      <input class="mentor" role="combobox" aria-expanded="true" aria-controls="phrases" autocomplete="off" ref=${focusOnce} value=${typed.value}
        aria-activedescendant=${at.value < 0 ? null : `phrase-${at.value}`}
        onInput=${(/** @type {any} */ event) => {
          typed.value = event.target.value;
          at.value = -1;
        }} onKeyDown=${press} />
    </label>
    <ul id="phrases" role="listbox" aria-label="Phrases">
      ${found.map(
        (
          /** @type {any} */ each,
          /** @type {number} */ n,
        ) => html`<li key=${each.key} id=${`phrase-${n}`} role="option" aria-selected=${n === at.value ? "true" : "false"}
          onClick=${() => add(each.words, each.key)}>${each.words} <span class="quiet">${each.about}</span></li>`,
      )}
    </ul>
    <p class="quiet"><kbd>↓</kbd> picks a phrase, <kbd>Enter</kbd> adds, <kbd>Esc</kbd> leaves</p>
  </div>`;
}

/** @param {{clip: any}} props */
export function Added({ clip }) {
  const mine = state.value.added.filter((/** @type {any} */ each) => each.clip === clip.key);
  return html`<section class="added" aria-label="Added by you">
    <h3>added by you</h3>
    <ul>
      ${mine.map(
        (/** @type {any} */ each) => html`<li key=${each.finding} class="mentor">${each.words}
          <button class="small" aria-label=${`Take back: ${each.words}`} onClick=${() => say("take back finding", { finding: each.finding }, clip.key)}>take back</button>
          <button class="small" aria-label=${`Urgent, open a call: ${each.words}`} onClick=${() => callFor(each.words)}>urgent: open a call</button>
        </li>`,
      )}
    </ul>
    ${
      opened.value === "phrase"
        ? html`<${Writing} clip=${clip} />`
        : html`<button class="small" onClick=${() => {
            opened.value = "phrase";
          }}>write or pick a phrase <kbd>/</kbd></button>`
    }
  </section>`;
}
