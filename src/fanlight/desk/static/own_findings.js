// What the mentor saw and says in own words: it stands in both papers. Here also of the study as a whole.
import { newId } from "./api.js";
import { callFor } from "./calls.js";
import { WordsField } from "./field.js";
import { html } from "./html.js";
import { clips, page, say, state } from "./model.js";
import { typedIn } from "./typed.js";

/** @param {string} key @returns {string} */
function placeOf(key) {
  const found = clips.value.find((each) => each.key === key);
  return found ? `clip ${found.number}` : "the study as a whole";
}

/** @param {{item: any}} props */
function Own({ item }) {
  const change = (/** @type {string} */ words) => {
    const { finding, clip, phrase, evidence } = item;
    if (!words) return true; // an empty finding is none: the words before stand again
    return say("add finding", { finding, clip, words, phrase: phrase ?? "", evidence: evidence ?? [] }, clip);
  };
  return html`<li>
    <label class="field">${placeOf(item.clip)}<${WordsField} study=${page.value.id} name=${`finding ${item.finding}`} class="mentor" rows=${2} value=${item.words} onSaid=${change} /></label>
    <p class="buttons"><button class="small" aria-label=${`Take back: ${item.words}`} onClick=${() => say("take back finding", { finding: item.finding }, item.clip)}>take back</button>
      <button class="small" aria-label=${`Urgent, open a call: ${item.words}`} onClick=${() => callFor(item.words)}>urgent: open a call</button></p>
  </li>`;
}

export function OwnFindings() {
  const words = typedIn(page.value.id, "own finding", () => "");
  const add = (/** @type {Event} */ event) => {
    event.preventDefault();
    if (!words.value.trim()) return;
    const finding = { finding: newId(), clip: "", words: words.value.trim(), phrase: "", evidence: [] };
    if (say("add finding", finding)) words.value = "";
  };
  const all = state.value.added;
  return html`<section class="own-findings" aria-label="Your own findings">
    <h2>Your own findings</h2>
    <ul>${all.map((/** @type {any} */ each) => html`<${Own} key=${each.finding} item=${each} />`)}</ul>
    <form onSubmit=${add}>
      <label class="field">a finding of the study as a whole<input class="mentor" value=${words.value} onInput=${(
        /** @type {any} */ event,
      ) => {
        words.value = event.target.value;
      }} /></label>
      <p class="buttons"><button type="submit">add it</button></p>
    </form>
  </section>`;
}
