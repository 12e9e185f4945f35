// Landmarks that were found on the picture: proposals on single frames. Those that somebody keeps become marks.
import { newId } from "./api.js";
import { signal } from "./html.js";
import { LANDMARKS } from "./landmarks.js";
import { tidy } from "./mark_points.js";
import { hidden, page, readingOf, sayTogether, state, told, viewOf } from "./model.js";
import { isFlow } from "./placing.js";
import { count } from "./words.js";

/** @typedef {{landmark: string, frame: number, point: number[], spread_px: number, probability: number}} Found */
/** @typedef {import("./player.js").Player} Player */

/** Off at first: the picture stays free. */
export const areShown = signal(false);
/** The landmark that has the keyboard or lies under the pointer: the picture names it. */
export const pointedAt = signal("");

const WORDS = new Map(LANDMARKS);

/** @param {string} landmark its name */
export const wordsOf = (landmark) => WORDS.get(landmark) ?? landmark;

/** Whether the mentor marked this landmark on this frame. @param {string} key @param {Found} found */
const isMarked = (key, { landmark, frame }) =>
  state.value.marks.some(
    (/** @type {any} */ each) => each.clip === key && each.frame === frame && each.landmark === landmark,
  );

/**
 * What is proposed on a clip: sure enough for the house and not marked yet. None while the clip is to be judged blind or
 * has no view (what is none of the views, another heart too, gets none), and none under Doppler, where nobody measured.
 * @param {string} key @returns {Found[]}
 */
export function foundOf(key) {
  const least = page.value?.words?.landmark_from ?? 1;
  const isOff = hidden.value.has(key) || !viewOf(key).view || isFlow(key);
  const all = isOff ? [] : (readingOf(key)?.picture?.landmarks ?? []);
  return all.filter((/** @type {Found} */ each) => each.probability >= least && !isMarked(key, each));
}

/** @param {string} key @param {number} frame */
export const foundOn = (key, frame) => foundOf(key).filter((each) => each.frame === frame);

/** Frames on which something is proposed. @param {string} key */
export const framesOf = (key) => [...new Set(foundOf(key).map((each) => each.frame))].sort((a, b) => a - b);

/** Make landmarks the mentor's marks. @param {string} clip @param {Found[]} found */
export function keepFound(clip, found) {
  const marks = found.map(({ landmark, frame, point }) => {
    return { mark: newId(), clip, frame, kind: "point", points: tidy([point]), landmark, label: wordsOf(landmark) };
  });
  if (!sayTogether("draw mark", marks)) return;
  told.value =
    found.length === 1 ? `Marked: ${wordsOf(found[0].landmark)}.` : `${count(found.length, "landmark")} marked.`;
}

/** Stop at a frame, and show what was found on it. @param {Player} player @param {number} frame */
export function showAt(player, frame) {
  areShown.value = true;
  player.isPlaying.value = false;
  player.show(frame);
}

/** Show what was found, at the nearest frame that has something; or hide it. @param {Player} player @param {string} key */
export function toggleFound(player, key) {
  if (areShown.value) {
    areShown.value = false;
    told.value = "Landmarks that were found are hidden.";
    return;
  }
  const frames = framesOf(key);
  areShown.value = true;
  if (frames.length === 0) {
    told.value = hidden.value.has(key) ? "Judge this clip first." : "No landmark is proposed on this clip.";
    return;
  }
  const now = player.frame.value;
  const nearest = frames.reduce((best, each) => (Math.abs(each - now) < Math.abs(best - now) ? each : best));
  showAt(player, nearest);
  told.value = `${count(foundOn(key, nearest).length, "landmark")} proposed on frame ${nearest + 1}. Shift F3 makes them your marks.`;
}

/** Keep all that is shown on the frame that stands; what nobody looked at is shown first. @param {Player} player @param {string} key */
export function keepAllFound(player, key) {
  if (!areShown.value) {
    toggleFound(player, key);
    return;
  }
  const here = foundOn(key, player.frame.value);
  if (here.length > 0) keepFound(key, here);
  else told.value = `No landmark is proposed on this frame${framesWords(key)}.`;
}

/** @param {string} key */
function framesWords(key) {
  const frames = framesOf(key);
  return frames.length
    ? `; there are some on ${frames.length > 1 ? "frames" : "frame"} ${frames.map((each) => each + 1).join(", ")}`
    : "";
}
