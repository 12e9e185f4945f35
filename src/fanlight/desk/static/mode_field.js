// What a clip is made of, in the mentor's word: pixels alone do not tell every spectrum of a plain picture.
import { onWritten, waiting } from "./acts.js";
import { html } from "./html.js";
import { loadStudy, page, readingOf, say, state, told } from "./model.js";
import { MODE_WORDS } from "./words.js";

const AS_READ = "";

/** What the engine holds a clip for, in words. @param {string} key */
function readWords(key) {
  const reading = readingOf(key);
  if (!reading) return "not read yet";
  return reading.mode?.mode ? MODE_WORDS[reading.mode.mode] : "not sure";
}

/**
 * What is to be done about the mode, or on its way; "" when nothing is.
 * @param {string} named by the mentor, "" for nothing @param {any} reading of the clip, null until it was read
 * @param {boolean} isReading whether the engine reads, or is still to be told
 */
export function modeHint(named, reading, isReading) {
  if (!reading) return "";
  if (!named && !reading.mode?.mode)
    return "Neither file nor picture tells it. Name it: until then the clip is neither measured nor judged.";
  if (!named || reading.mode?.mode === named) return "";
  return isReading
    ? "It is read again as that."
    : "It could not be read as that: what stands here comes from the reading before.";
}

// The engine begins as soon as the name is written: ask how far it is.
onWritten((done, answer) => {
  if (done.study !== page.value?.id || answer?.entry?.action !== "name mode") return;
  page.value = { ...page.value, engine: { ...page.value.engine, state: "reading" } };
  void loadStudy(done.study);
});

const isBusy = () => page.value.engine?.state !== "idle" || waiting.value.some((each) => each.action === "name mode");

/** @param {string} key @param {string} mode the name of a mode, or "" for what the engine reads */
export function nameMode(key, mode) {
  if (!say("name mode", { clip: key, mode: mode || null }, key)) return;
  told.value = mode ? `Named ${MODE_WORDS[mode]}; it is read again.` : "The mode is read from file and picture again.";
}

/** @param {{clip: any}} props */
export function ModeField({ clip }) {
  const named = state.value.modes[clip.key]?.mode ?? AS_READ;
  const hint = modeHint(named, readingOf(clip.key), isBusy());
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
  </label>
  ${hint ? html`<p class="mode-hint quiet" role="status">${hint}</p>` : null}`;
}
