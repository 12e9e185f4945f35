// What was done with the open study, by whom, and where: so that taking something back can say what it was.
import { own } from "./acts.js";

/** @typedef {{id: string, clip: string, author: string, action: string, undoes: string, at: string}} Entry */

/** Each with its study. @type {Map<string, Entry & {study: string}>} */
const log = new Map();

/** @param {string} study @param {Entry[]} entries */
export function note(study, ...entries) {
  for (const each of entries) log.set(each.id, { ...each, study });
}

/** Whether an entry is known. @param {string} id */
export const isNoted = (id) => log.has(id);

/** What is known of a study's log, oldest first: what is told may come in another order. @param {string} study @returns {Entry[]} */
export function logOf(study) {
  const mine = [...log.values()].filter((each) => each.study === study);
  return mine.sort((a, b) => (a.at < b.at ? -1 : a.at > b.at ? 1 : 0));
}

/** Whether something was ever done on a clip, taken back or not. @param {string} action @param {string} clip */
export const wasDone = (action, clip) => [...log.values()].some((each) => each.action === action && each.clip === clip);

/** What an entry takes back, or puts back, in words; whose it was when it was not done in this page. @param {Entry} entry @param {(clip: string) => string} nameOf a clip */
export function takenBack(entry, nameOf) {
  let isBack = true;
  let what = log.get(entry.undoes);
  while (what?.action === "undo") {
    isBack = !isBack;
    what = log.get(what.undoes);
  }
  const done = isBack ? "Taken back." : "Put back.";
  if (!what) return done;
  const words = what.clip ? `${nameOf(what.clip)}: ${what.action}.` : `${what.action}.`;
  return `${done} ${words}${own.has(what.id) ? "" : ` Said by ${what.author}, not in this page.`}`;
}
