// The few changes that would resolve most of what was decided: the letter opens with those that the mentor keeps.
import { get } from "./api.js";
import { WordsField } from "./field.js";
import { html, useEffect, useSignal } from "./html.js";
import { choose, findingKey, go, page, say, sayAll, state, told } from "./model.js";
import { Movement } from "./movement.js";
import { capital, count } from "./words.js";

const KEPT = "kept";
const OUT = "thrown out";
const UNSAID = "not said";

/** @typedef {{cause: string, title: string, words: string}} Other what may stand in the place of a change */
/** @typedef {{clip: string, number: number, criterion: string, title: string}} Shown a finding that a change would resolve */
/** @typedef {{clip: string, number: number, view: string, said: string, landmarks: string[], given_by: string}} Stand where the probe stood in a clip, and what tells it */
/** @typedef {{cause: string, title: string, is_stale: boolean, has_room: boolean, level: string, likely: string, prior_from: string, is_habit: boolean, is_withheld: boolean, is_tried: boolean, is_movement: boolean, words: string, resolves: number, where: string, evidence: Shown[], stands_on: Stand[], alternatives: Other[]}} Change */

/** The mentor's word on a cause. @param {any[]} said @param {string} cause @returns {string} */
export const wordOn = (said, cause) => said.find((each) => each.cause === cause)?.word ?? UNSAID;

/**
 * What the letter does without, in words; "" when everything is decided.
 * @param {Change[]} all @param {any[]} said
 */
export function leftOutWords(all, said) {
  const n = all.filter((each) => !each.is_stale && wordOn(said, each.cause) === UNSAID).length;
  if (n === 0) return "";
  return `${count(n, "change")} not decided: the letter is silent on ${n === 1 ? "it" : "them"}.`;
}

/**
 * Why a change cannot be kept beside those that are, in words; "" when there is room.
 * @param {Change[]} all @param {any[]} said @param {number} most in a letter @param {string[]} without causes that do not count
 */
export function noRoomWords(all, said, most, without) {
  const kept = all.filter(
    (each) => !each.is_stale && wordOn(said, each.cause) === KEPT && !without.includes(each.cause),
  );
  if (kept.length < most) return "";
  const titles = kept.map((each) => each.title).join("; ");
  return `Not kept: the letter opens with ${most} changes at most, and ${kept.length} are kept: ${titles}. Throw one of them out, or take its keep back.`;
}

/** @param {Change} item @param {string} word said again: it is taken away @param {Change[]} all @param {number} most */
function judge(item, word, all, most) {
  const isAgain = wordOn(state.value.changes, item.cause) === word;
  const full = word === KEPT && !isAgain ? noRoomWords(all, state.value.changes, most, [item.cause]) : "";
  if (full) {
    told.value = full;
    return;
  }
  if (!say("judge change", { cause: item.cause, word: isAgain ? UNSAID : word })) return;
  const what = isAgain ? "not decided any more" : word === KEPT ? "kept, the letter opens with it" : "thrown out";
  told.value = `${capital(item.title)}: ${what}.`;
}

/** @param {Change} item @param {Other} other */
function keepOther(item, other) {
  const words = [
    { cause: item.cause, word: OUT },
    { cause: other.cause, word: KEPT },
  ];
  if (sayAll(words.map((payload) => ({ action: "judge change", payload }))))
    told.value = `Kept in its place: ${other.title}. Backspace takes both back.`;
}

/** Show a clip, with a finding chosen where there is one. @param {string} clip @param {string} [criterion] */
function show(clip, criterion) {
  choose(clip);
  if (criterion) findingKey.value = criterion;
  go("study", page.value.id);
}

/** @param {{item: Change}} props */
function Words({ item }) {
  const part = `change:${item.cause}`;
  const own =
    state.value.texts.find((/** @type {any} */ each) => each.document === "letter" && each.part === part)?.text ?? null;
  const change = (/** @type {string} */ words) => {
    const text = words && words !== item.words ? words : null;
    return text === own || say("edit text", { document: "letter", part, text });
  };
  const said = html`<p class=${own === null || item.is_withheld ? "engine" : "mentor"}>${item.is_withheld ? item.words : (own ?? item.words)}</p>`;
  if (item.is_withheld) return said;
  return html`${said}<details class="own">
    <summary>in your words</summary>
    <label class="field">${own === null ? "as proposed" : "yours; empty: as proposed"}
      <${WordsField} study=${page.value.id} name=${`letter ${part}`} rows=${5} class=${own === null ? "engine" : "mentor"} value=${own ?? item.words} onSaid=${change} />
    </label>
  </details>`;
}

/** @param {{item: Change}} props */
function Evidence({ item }) {
  if (item.evidence.length === 0) return null;
  return html`<details class="points-to">
    <summary>what points to it: ${count(item.evidence.length, "finding")}</summary>
    <ul>${item.evidence.map(
      (each) =>
        html`<li key=${each.clip + each.criterion}><button class="small" onClick=${() => show(each.clip, each.criterion)}>clip ${each.number}</button> ${each.title}</li>`,
    )}</ul>
  </details>`;
}

/** From which landmarks a movement is told, clip by clip. @param {{item: Change}} props */
function Stands({ item }) {
  if (item.stands_on.length === 0) return null;
  return html`<details class="points-to">
    <summary>what it stands on: landmarks in ${count(item.stands_on.length, "clip")}</summary>
    <ul>${item.stands_on.map(
      (each) =>
        html`<li key=${each.clip}><button class="small" onClick=${() => show(each.clip)}>clip ${each.number}</button> ${`${each.view}: ${each.said}.`} <span class="quiet">${count(each.landmarks.length, "landmark")} ${each.given_by}: ${each.landmarks.join(", ")}</span></li>`,
    )}</ul>
  </details>`;
}

/** What a change is behind, in words. @param {Change} item */
function behindWords(item) {
  if (item.resolves) return `behind ${count(item.resolves, "finding")}`;
  return item.is_movement ? "told by landmarks alone" : "";
}

/** @param {{item: Change, all: Change[], most: number}} props */
function Row({ item, all, most }) {
  const word = wordOn(state.value.changes, item.cause);
  const button = (/** @type {string} */ says, /** @type {string} */ words) =>
    html`<button class="small" aria-pressed=${word === says ? "true" : "false"} aria-label=${`${words}: ${item.title}`} onClick=${() => judge(item, says, all, most)}>${words}</button>`;
  const where = item.is_stale
    ? ""
    : [item.likely, item.is_tried ? "to be tried" : "", item.level, item.is_habit ? "runs through the study" : ""]
        .filter(Boolean)
        .join(" · ");
  return html`<li class=${`change ${word.replace(" ", "-")} ${item.is_stale ? "stale" : ""}`}>
    <p class="row"><strong>${capital(item.title)}</strong><span class="gap"></span>
      ${word === UNSAID ? html`<span class="decision">proposed</span>` : html`<span class="decision said">${word}</span>`}</p>
    ${
      item.is_stale
        ? html`<p class="caution">You said so before; nothing that is decided now points to it, so the letter is silent on it.</p>`
        : html`<p class="quiet">${[where, item.where, behindWords(item)].filter(Boolean).join(" · ")}</p>
          ${item.prior_from ? html`<p class="quiet">${`How often it acts was fitted ${item.prior_from}.`}</p>` : null}
          ${item.has_room ? null : html`<p class="caution">Kept, and not in the letter: those before it fill it. Throw one of them out to make room.</p>`}
          <${Evidence} item=${item} />
          <${Stands} item=${item} />
          <${Words} item=${item} />
          ${item.is_movement && !item.is_withheld ? html`<${Movement} cause=${item.cause} />` : null}
          ${item.alternatives.map(
            (
              other,
            ) => html`<div key=${other.cause} class="other"><p>or: <strong>${capital(other.title)}</strong>. <span class="engine">${other.words}</span></p>
              <p class="buttons"><button class="small" onClick=${() => keepOther(item, other)}>this one in its place</button></p></div>`,
          )}`
    }
    <p class="buttons">${item.is_stale && word === OUT ? null : button(KEPT, "keep")}${button(OUT, "throw out")}</p>
  </li>`;
}

/** @param {{version: number}} props counts what changed the letter */
export function Changes({ version }) {
  const found = useSignal(/** @type {Change[] | null} */ (null));
  const most = useSignal(Infinity);
  const study = page.value.id;
  useEffect(() => {
    let isWanted = true;
    get(`/api/studies/${study}/changes`)
      .then((answer) => {
        if (!isWanted) return;
        most.value = answer.most;
        found.value = answer.changes;
      })
      .catch(() => {}); // the preview beside it says what is wrong
    return () => {
      isWanted = false;
    };
  }, [study, version]);
  if (found.value === null) return null;
  const left = leftOutWords(found.value, state.value.changes);
  return html`<section class="changes" aria-label="What would change most">
    <h2>What would change most</h2>
    ${found.value.length === 0 ? html`<p class="quiet">Nothing yet: what is missed and kept is explained by its causes.</p>` : null}
    ${left ? html`<p class="left-out">${left}</p>` : null}
    <ol>${found.value.map((item) => html`<${Row} key=${item.cause} item=${item} all=${found.value} most=${most.value} />`)}</ol>
  </section>`;
}
