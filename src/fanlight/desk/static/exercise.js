// The next exercise: written down as soon as it is whole; what is typed of it stays while the page lives.
import { html, signal } from "./html.js";
import { page, say, state, titleOf } from "./model.js";

/** @typedef {{view: string, look_for: string, repetitions: string, due: string}} Form */

/** What is typed and not said yet, by study. */
const typed = signal(/** @type {Record<string, Partial<Form>>} */ ({}));

/** The exercise that holds, as the form shows it. @returns {Form} */
function held() {
  const { view = "", look_for = "", repetitions = 10, due = "" } = state.value.exercise ?? {};
  return { view, look_for, repetitions: String(repetitions), due: due ?? "" };
}

/** @returns {Form} */
const shown = () => ({ ...held(), ...typed.value[page.value.id] });

/** What the form says. @param {Form} form @returns {any} null while it is not filled in */
export function exerciseIn({ view, look_for, repetitions, due }) {
  if (!view || !look_for.trim()) return null;
  const times = Math.max(1, Math.round(Number(repetitions)) || 1);
  return { view, look_for: look_for.trim(), repetitions: times, due: due || null };
}

/** The exercise that the letter is signed with, null while there is none. */
export const exerciseNow = () => exerciseIn(shown());

/** @param {keyof Form} name @param {string} text */
function type(name, text) {
  const id = page.value.id;
  typed.value = { ...typed.value, [id]: { ...typed.value[id], [name]: text } };
}

/** Say what is typed once it is whole; a form that was emptied shows again what holds. */
function settle() {
  const now = exerciseNow();
  const before = state.value.exercise ? exerciseIn(held()) : null;
  if (!now && !before) return; // half of it: it waits
  const isNew = now && JSON.stringify(now) !== JSON.stringify(before);
  if (isNew && !say("set exercise", now)) return; // a name is asked for first
  const { [page.value.id]: _, ...others } = typed.value;
  typed.value = others;
}

export function Exercise() {
  const form = shown();
  const field = (/** @type {keyof Form} */ name) => ({
    value: form[name],
    onInput: (/** @type {any} */ event) => type(name, event.target.value),
    onChange: settle,
  });
  const views = Object.keys(page.value.plan.views);
  return html`<fieldset class="exercise">
    <legend>Next exercise, part of the letter</legend>
    <label class="field">view
      <select ...${field("view")}>
        <option value="">choose</option>
        ${views.map((each) => html`<option key=${each} value=${each}>${titleOf(each)}</option>`)}
      </select>
    </label>
    <label class="field">what to look for<input class="mentor" ...${field("look_for")} /></label>
    <label class="field short">how often<input type="number" min="1" ...${field("repetitions")} /></label>
    <label class="field short">by<input type="date" ...${field("due")} /></label>
  </fieldset>`;
}
