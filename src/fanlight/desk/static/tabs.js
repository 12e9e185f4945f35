// Several pages of one browser: each keeps its unsent acts under its own name, and takes those of a page that has gone.
import { newId } from "./api.js";
import { drop, keep, keptNames, readKept } from "./kept.js";

const ACTS = "acts ";
const me = newId();
const lockOf = (/** @type {string} */ page) => `fanlight page ${page}`;
/** Pages that are waited for. @type {Set<string>} */
const watched = new Set([me]);

/** Keep what this page has not sent yet. @param {any[]} acts @returns {boolean} whether the browser could keep it */
export function keepActs(acts) {
  if (acts.length > 0) return keep(ACTS + me, acts);
  drop(ACTS + me);
  return true;
}

/**
 * Take the acts of pages that were closed, now and whenever one is; a page that lives sends its own.
 * @param {(acts: any[]) => void} take called before they are forgotten under the other name
 */
export function inherit(take) {
  const of = (/** @type {string} */ key) => {
    const acts = readKept(key, []);
    if (acts.length > 0) take(acts);
    drop(key);
  };
  const locks = navigator.locks; // not there when the desk is reached over an address that browsers do not trust
  if (!locks) {
    for (const key of keptNames(ACTS)) of(key);
    return;
  }
  void locks.request(lockOf(me), () => new Promise(() => {})); // held as long as this page lives
  const look = () => {
    for (const key of keptNames(ACTS)) {
      const page = key.slice(ACTS.length);
      if (watched.has(page)) continue;
      watched.add(page);
      // Given when that page has gone; to one page only.
      void locks.request(lockOf(page), () => {
        of(key);
        watched.delete(page);
      });
    }
  };
  look();
  window.addEventListener("storage", look);
}
