// What the engine says of each clip, fetched when it is looked at: all of a long study at once would be a megabyte.
import { get } from "./api.js";
import { signal } from "./html.js";

/** Whole readings of the open study, by clip. */
export const whole = signal(/** @type {Map<string, any>} */ (new Map()));

/** Which request of a clip is the newest: an older answer is not taken. @type {Map<string, number>} */
const asked = new Map();
let n = 0;

/** Forget all but one clip's, which stays on the screen until it is fetched anew. @param {string} [key] */
export function forgetReadings(key = "") {
  const kept = whole.value.get(key);
  asked.clear();
  whole.value = new Map(kept ? [[key, kept]] : []);
}

/** Fetch a clip's reading, or fetch it anew. @param {string} study @param {string} key @returns {Promise<void>} */
export async function fetchReading(study, key) {
  n += 1;
  const mine = n;
  asked.set(key, mine);
  try {
    const one = await get(`/api/studies/${study}/clips/${key}`);
    if (asked.get(key) === mine) whole.value = new Map(whole.value).set(key, one);
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
