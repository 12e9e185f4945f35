// What the last letter asked of this trainee, beside the new study: was it done, is it mended? Only the mentor says so.
import { html } from "./html.js";
import { opened, page, say, state } from "./model.js";
import { count, day } from "./words.js";

const OF_CORRECTION = ["not said", "mended", "not mended"];
const OF_EXERCISE = ["not said", "done", "not done"];

/** What was asked for: name, words, what can be said of it. @param {any} last */
function asked(last) {
  const corrections = last.corrections.map((/** @type {any} */ each) => ({
    about: `${each.criterion}:${each.side}`,
    title: each.title,
    words: each.correction,
    choice: OF_CORRECTION,
  }));
  const changes = last.changes.map((/** @type {any} */ each) => ({
    about: `cause:${each.cause}`,
    title: each.title,
    words: each.correction,
    choice: OF_CORRECTION,
  }));
  const points = [...changes, ...corrections];
  if (!last.exercise) return points;
  const { view, look_for, repetitions } = last.exercise;
  const title = `exercise: ${repetitions} × ${last.exercise_title || view}`;
  return [...points, { about: "exercise", title, words: look_for, choice: OF_EXERCISE }];
}

/** @param {any} last @param {string} about */
function wordOn(last, about) {
  const said = state.value.advice.find(
    (/** @type {any} */ each) => each.letter === last.letter && each.about === about,
  );
  return said?.word ?? "not said";
}

/** Opens the panel; says how much nobody has said anything about. */
export function AdviceButton() {
  const last = page.value?.last_letter;
  if (!last) return null;
  const open = asked(last).filter((/** @type {any} */ each) => wordOn(last, each.about) === "not said").length;
  return html`<button class="small" onClick=${() => {
    opened.value = opened.value === "advice" ? "" : "advice";
  }}>last letter${open ? `: ${count(open, "point")} to say` : ""}</button>`;
}

/** @param {{last: any, item: any}} props */
function Point({ last, item }) {
  const now = wordOn(last, item.about);
  const choose = (/** @type {string} */ word) => say("judge advice", { letter: last.letter, about: item.about, word });
  return html`<li><fieldset>
    <legend>${item.title}</legend>
    ${item.words ? html`<p class="mentor">${item.words}</p>` : null}
    ${item.choice.map(
      (/** @type {string} */ word) =>
        html`<label key=${word} class="choice"><input type="radio" name=${`advice ${item.about}`} checked=${now === word} onChange=${() => choose(word)} />${word}</label>`,
    )}
  </fieldset></li>`;
}

export function AdvicePanel() {
  const last = page.value?.last_letter;
  if (!last) return null;
  return html`<div class="panel advice" role="dialog" aria-label="What the last letter asked for">
    <h2>What the last letter asked for</h2>
    <p class="quiet">${last.animal ? `On ${last.animal}, signed` : "Signed"} ${day(last.signed_at)}. <a href=${`#/letters/${last.study}`}>open it</a></p>
    <ul class="points">${asked(last).map((/** @type {any} */ item) => html`<${Point} key=${item.about} last=${last} item=${item} />`)}</ul>
    <p class="quiet">What you say here stands in the new letter: first what is mended or done, then what is asked for again. What you leave unsaid does not.</p>
    <p class="buttons"><button onClick=${() => {
      opened.value = "";
    }}>close <kbd>Esc</kbd></button></p>
  </div>`;
}
