// What stages and scores wait for: lesion, heart failure, treatment and signs, named by the mentor and nobody else.
import { WordsField } from "./field.js";
import { html } from "./html.js";
import { page, say, state } from "./model.js";
import { capital, count } from "./words.js";

/** @typedef {{by: string, lesions: string[], failure: string | null, treatment: string, signs: string[], signs_absent: string[]}} Named */
/** @typedef {{title: string, species: string[], gradings: string[]}} Lesion */

const NOTHING = { by: "", lesions: [], failure: null, treatment: "", signs: [], signs_absent: [] };
/** @type {[string | null, string][]} */
const FAILURE = [
  [null, "not said"],
  ["none", "none"],
  ["past", "in the past"],
  ["present", "present"],
  ["refractory", "in spite of treatment"],
];
const SIGN = ["not said", "seen", "not there"];

/** What holds: named on the desk, else in a marks file of the study. @returns {Named} */
const now = () => state.value.named ?? page.value?.study?.request?.named ?? NOTHING;

/** What is said when one thing of it changes. @param {Named} was @param {Partial<Named>} change */
export function saidWith({ lesions, failure, treatment, signs, signs_absent }, change) {
  const { by, ...said } = { by: "", lesions, failure, treatment, signs, signs_absent, ...change };
  return said;
}

/** A list with a key in it, or without. @param {string[]} keys @param {string} key @param {boolean} isIn */
const withKey = (keys, key, isIn) => [...keys.filter((each) => each !== key), ...(isIn ? [key] : [])];

/** The word on a sign. @param {Named} named @param {string} key */
export function wordOnSign({ signs, signs_absent }, key) {
  if (signs.includes(key)) return "seen";
  return signs_absent.includes(key) ? "not there" : "not said";
}

/** What changes when a sign gets a word. @param {Named} named @param {string} key @param {string} word */
export const signsWith = ({ signs, signs_absent }, key, word) => ({
  signs: withKey(signs, key, word === "seen"),
  signs_absent: withKey(signs_absent, key, word === "not there"),
});

/** What stages and scores still wait for, in words. @param {Named} named */
export function waitsWords({ lesions, failure, treatment }) {
  const missing = [lesions.length ? "" : "lesion", failure ? "" : "heart failure", treatment ? "" : "treatment"];
  const words = missing.filter(Boolean);
  return words.length ? `Stages and scores stay empty until you name: ${words.join(", ")}.` : "";
}

/** Lesions of this animal: those that a stage or score grades first. @param {Record<string, Lesion>} all @param {string | null} species @param {string[]} named these are shown whatever the animal is */
export function lesionsFor(all, species, named) {
  const able = Object.entries(all).filter(
    ([key, each]) => named.includes(key) || !species || each.species.includes(species),
  );
  return able.sort(([, one], [, other]) => Number(other.gradings.length > 0) - Number(one.gradings.length > 0));
}

/** @param {Partial<Named>} change */
const change = (change) => say("name facts", saidWith(now(), change));

/** @param {{named: Named}} props */
function Signs({ named }) {
  const all = Object.entries(/** @type {Record<string, string>} */ (page.value?.words?.signs ?? {}));
  const n = named.signs.length + named.signs_absent.length;
  return html`<details>
    <summary>signs that no number says${n ? `: ${count(n, "sign")} said` : ""}</summary>
    ${all.map(
      ([key, title]) => html`<label key=${key} class="field sign">${capital(title)}
        <select value=${wordOnSign(named, key)} onChange=${(/** @type {any} */ event) => change(signsWith(now(), key, event.target.value))}>
          ${SIGN.map((word) => html`<option key=${word} value=${word}>${word}</option>`)}
        </select>
      </label>`,
    )}
  </details>`;
}

export function NamedForm() {
  const named = now();
  const waits = waitsWords(named);
  const where = state.value.named ? "on the desk" : "in a marks file of the study";
  const lesions = lesionsFor(
    page.value?.words?.lesions ?? {},
    page.value?.study?.patient?.species ?? null,
    named.lesions,
  );
  return html`<section class="named" aria-label="Named for stages and scores">
    <h3>Named for stages and scores</h3>
    <p class="quiet">${named.by ? html`by <span class="mentor">${named.by}</span>, ${where}. ` : null}${waits}</p>
    <fieldset><legend>lesion</legend>
      ${lesions.map(
        ([key, each]) =>
          html`<label key=${key} class="choice"><input type="checkbox" checked=${named.lesions.includes(key)} onChange=${(/** @type {any} */ event) => change({ lesions: withKey(now().lesions, key, event.target.checked) })} />${each.title}</label>`,
      )}
    </fieldset>
    <fieldset><legend>heart failure</legend>
      ${FAILURE.map(
        ([key, words]) =>
          html`<label key=${words} class="choice"><input type="radio" name="failure" checked=${named.failure === key} onChange=${() => change({ failure: key })} />${words}</label>`,
      )}
    </fieldset>
    <label class="field">treatment, in words; “none” where there is none
      <${WordsField} study=${page.value.id} name="named treatment" class="mentor" value=${named.treatment} onSaid=${(/** @type {string} */ words) => change({ treatment: words })} /></label>
    <${Signs} named=${named} />
  </section>`;
}
