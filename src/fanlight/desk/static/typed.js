// What is typed into a form and not said yet: it stays while the page lives, by study and field, whatever place is shown.
import { signal } from "./html.js";

/** @type {Map<string, import("./html.js").Signal<any>>} */
const kept = new Map();

/**
 * What stands in a field of a study; the same signal each time it is asked for.
 * @template T
 * @param {string} study @param {string} name the field's own within the study @param {() => T} first what stands there at first
 * @returns {import("./html.js").Signal<T>}
 */
export function typedIn(study, name, first) {
  const key = `${study} ${name}`;
  const found = kept.get(key) ?? signal(first());
  kept.set(key, found);
  return found;
}
