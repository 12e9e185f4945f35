// What the engine says of each clip, fetched when it is looked at: all of a long study at once would be a megabyte.
import { get } from "./api.js";
import { batch, signal } from "./html.js";

/** Whole readings of the open study, by clip. */
export const whole = signal(/** @type {Map<string, any>} */ (new Map()));

/** Clips whose proposals are shown from now on, and are not here yet. */
export const awaited = signal(/** @type {Set<string>} */ (new Set()));

/** Which request of a clip is the newest: an older answer is not taken. @type {Map<string, number>} */
const asked = new Map();
let n = 0;

/** Forget all but one clip's, which stays on the screen until it is fetched anew. @param {string} [key] */
export function forgetReadings(key = "") {
  const kept = whole.value.get(key);
  asked.clear();
  whole.value = new Map(kept ? [[key, kept]] : []);
}

/** Wait for the proposals of clips: what is here of them was told without. @param {string[]} keys */
export function awaitReadings(keys) {
  for (const key of keys) asked.delete(key); // an answer that is on its way may be without them too
  if (keys.length > 0) awaited.value = new Set([...awaited.value, ...keys]);
}

/** Wait for no other clip's proposals, and for this one's if that was so or is now. @param {string} key @param {boolean} isNow */
export function awaitOnly(key, isNow) {
  awaited.value = new Set(isNow || awaited.value.has(key) ? [key] : []);
}

/** Fetch a clip's reading, or fetch it anew. @param {string} study @param {string} key @returns {Promise<void>} */
export async function fetchReading(study, key) {
  n += 1;
  const mine = n;
  asked.set(key, mine);
  try {
    const one = await get(`/api/studies/${study}/clips/${key}`);
    if (asked.get(key) !== mine) return;
    batch(() => {
      whole.value = new Map(whole.value).set(key, one);
      awaited.value = new Set([...awaited.value].filter((each) => each !== key));
    });
  } catch (error) {
    if (asked.get(key) === mine) asked.delete(key);
    throw error;
  }
}

/** Fetch what is not there yet, one after the other. @param {string} study @param {string[]} keys */
export async function fetchMissing(study, keys) {
  for (const key of keys) {
    if (!asked.has(key)) await fetchReading(study, key);
  }
}
