// Answers of the service may overtake each other: which of two tells of the later state.

let n = 0;

/** Number a request: to be taken before it is sent, and once more when its answer is there. */
export function nextInLine() {
  n += 1;
  return n;
}

/** @typedef {{n_entries: number, asked: number, came: number}} Held what is shown: how long the log was, when it was asked for and came */

/**
 * Whether an answer tells of an earlier state than the one that is shown. The log only grows, so the longer one is later;
 * with the same log (the engine read on meanwhile) the later request. What was asked for after the other came is always later.
 * @param {{n_entries: number}} answer @param {number} asked @param {Held} held
 */
export function isEarlier(answer, asked, held) {
  if (asked > held.came) return false;
  if (answer.n_entries !== held.n_entries) return answer.n_entries < held.n_entries;
  return asked < held.asked;
}

let held = { asked: 0, came: 0 };

/** What people said is shown as of this request from now on. @param {number} asked */
export function nowShown(asked) {
  held = { asked, came: nextInLine() };
}

/** Whether an answer must not replace what is shown. @param {any} answer @param {number} asked @param {any} shown */
export const isTooLate = (answer, asked, shown) => isEarlier(answer, asked, { ...held, n_entries: shown.n_entries });

const DECIDED = [
  "last_entry",
  "n_entries",
  "next_undo",
  "next_redo",
  "state",
  "blind",
  "causes_first",
  "review",
  "told_anew",
];

/** A study with what people said as another tells it. @param {any} study @param {any} later @returns {any} */
export const withDecided = (study, later) => ({
  ...study,
  ...Object.fromEntries(DECIDED.map((each) => [each, later[each]])),
});
