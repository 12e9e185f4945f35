// What a clip is made of, in the mentor's word: pixels alone do not tell every spectrum of a plain picture.
import { html } from "./html.js";
import { readingOf, say, state, told } from "./model.js";
import { MODE_WORDS } from "./words.js";

const AS_READ = "";

/** What the engine holds a clip for, in words. @param {string} key */
function readWords(key) {
  const reading = readingOf(key);
  if (!reading) return "not read yet";
  return reading.mode?.mode ? MODE_WORDS[reading.mode.mode] : "mode not sure";
}

/** @param {string} key @param {string} mode the name of a mode, or "" for what the engine reads */
export function nameMode(key, mode) {
  if (!say("name mode", { clip: key, mode: mode || null }, key)) return;
  told.value = mode ? `Named ${MODE_WORDS[mode]}; it is read again.` : "The mode is read from file and picture again.";
}

/** @param {{clip: any}} props */
export function ModeField({ clip }) {
  const named = state.value.modes[clip.key]?.mode ?? AS_READ;
  return html`<label class="mode-field">mode
    <select
      class=${named ? "mentor" : "engine"}
      value=${named}
      onChange=${(/** @type {any} */ event) => {
        nameMode(clip.key, event.target.value);
        event.target.blur(); // else the letters of the path would choose modes
      }}
    >
      <option value=${AS_READ}>${named ? "as file and picture tell" : readWords(clip.key)}</option>
      ${Object.entries(MODE_WORDS).map(([key, words]) => html`<option key=${key} value=${key} selected=${key === named}>${words}</option>`)}
    </select>
  </label>`;
}
