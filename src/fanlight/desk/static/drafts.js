// Words that were typed and not said yet. They outlive the field in which they stand, until they are said.

/** @typedef {{text: string, say: () => boolean}} Draft `say` tells whether it could be said */

/** By study and field. @type {Map<string, Draft>} */
const drafts = new Map();

/** @param {string} study @param {string} field */
export const draftKey = (study, field) => `${study} ${field}`;

/** @param {string} key @returns {string | null} null: nothing is being written there */
export const draftOf = (key) => drafts.get(key)?.text ?? null;

/** @param {string} key @param {Draft} draft */
export function keepDraft(key, draft) {
  drafts.set(key, draft);
}

/** Say what was written in a field, once. @param {string} key @returns {boolean} whether nothing is left to be said there */
export function sayDraft(key) {
  const draft = drafts.get(key);
  if (!draft) return true;
  drafts.delete(key); // before it is said: saying it may leave the field, which says it
  if (draft.say()) return true;
  if (!drafts.has(key)) drafts.set(key, draft);
  return false;
}

/** Say all that was written about a study. @param {string} study */
export function sayDrafts(study) {
  for (const key of [...drafts.keys()]) if (key.startsWith(draftKey(study, ""))) sayDraft(key);
}
