// What the browser keeps between visits: a name, a theme, acts that were not sent yet. Never anything else of a study.
import { effect, signal } from "./html.js";

/** @param {string} key @param {any} otherwise */
export function readKept(key, otherwise) {
  try {
    const text = localStorage.getItem(`fanlight.${key}`);
    return text === null ? otherwise : JSON.parse(text);
  } catch {
    return otherwise;
  }
}

/** @param {string} key @param {any} value @returns {boolean} whether it could be kept */
export function keep(key, value) {
  try {
    localStorage.setItem(`fanlight.${key}`, JSON.stringify(value));
    return true;
  } catch {
    return false;
  }
}

/** Names under which something is kept. @param {string} beginning @returns {string[]} */
export function keptNames(beginning) {
  try {
    const names = Object.keys(localStorage).filter((each) => each.startsWith(`fanlight.${beginning}`));
    return names.map((each) => each.slice("fanlight.".length));
  } catch {
    return [];
  }
}

/** @param {string} key */
export function drop(key) {
  try {
    localStorage.removeItem(`fanlight.${key}`);
  } catch {
    // a browser that keeps nothing has nothing to forget
  }
}

/** A signal whose value outlives the page. @template T @param {string} key @param {T} otherwise */
export function keptSignal(key, otherwise) {
  const held = signal(/** @type {T} */ (readKept(key, otherwise)));
  effect(() => {
    keep(key, held.value);
  });
  return held;
}
