// Landmarks that were found on the picture, and calipers laid on it: proposals on single frames. Those that somebody
// keeps become marks.
import { newId } from "./api.js";
import { signal } from "./html.js";
import { LANDMARKS } from "./landmarks.js";
import { tidy } from "./mark_points.js";
import { hidden, page, readingOf, sayAll, state, titleOf, told, viewOf } from "./model.js";
import { isFlow } from "./placing.js";
import { count } from "./words.js";

/** A point with its landmark, or a line with the quantity that it measures. `probability` null: of a line none is told. */
/** @typedef {{name: string, words: string, landmark: string, frame: number, points: number[][], spread_px: number, probability: number | null}} Found */
/** @typedef {import("./player.js").Player} Player */

/** Off at first: the picture stays free. */
export const areShown = signal(false);
/** What has the keyboard or lies under the pointer, by its name: the picture tells its words. */
export const pointedAt = signal("");

const WORDS = new Map(LANDMARKS);

/** @param {any} found @returns {Found} */
function asPoint({ landmark, frame, point, spread_px, probability }) {
  const words = WORDS.get(landmark) ?? landmark;
  return { name: landmark, words, landmark, frame, points: [point], spread_px, probability };
}

/** A caliper, in the words by which marks are measured: the quantity, and the convention where there are two. @param {any} found @returns {Found} */
function asLine({ what, frame, ends, spread_px, said }) {
  const symbol = page.value?.words?.quantities?.[what] ?? what;
  const words = said ? `${symbol}, ${said}` : symbol;
  return { name: words, words, landmark: "", frame, points: ends, spread_px, probability: null };
}

/** Whether the mentor marked the same on this frame. @param {string} key @param {Found} found */
const isMarked = (key, { landmark, words, frame }) =>
  state.value.marks.some(
    (/** @type {any} */ each) =>
      each.clip === key && each.frame === frame && (landmark ? each.landmark === landmark : each.label === words),
  );

/** Calipers of a clip's picture that its view carries, as it is placed or proposed now, and those that it does not. @param {string} key @param {any[]} lines */
function byView(key, lines) {
  const carried = page.value?.words?.calipers?.[viewOf(key).view] ?? [];
  return {
    here: lines.filter((each) => carried.includes(each.what)),
    elsewhere: lines.filter((each) => !carried.includes(each.what)),
  };
}

/**
 * What is proposed on a clip: sure enough for the house and not marked yet. None while the clip is to be judged blind or
 * has no view (what is none of the views, another heart too, gets none), and none under Doppler, where nobody measured.
 * @param {string} key @returns {Found[]}
 */
export function foundOf(key) {
  const least = page.value?.words?.landmark_from ?? 1;
  const isOff = hidden.value.has(key) || !viewOf(key).view || isFlow(key);
  const picture = isOff ? null : readingOf(key)?.picture;
  const all = [...(picture?.landmarks ?? []).map(asPoint), ...byView(key, picture?.lines ?? []).here.map(asLine)];
  return all.filter((each) => (each.probability ?? 1) >= least && !isMarked(key, each));
}

/** Why calipers that were laid on a clip are not proposed: it lies in a view that does not carry them. "" where none are. @param {string} key */
export function elsewhereWords(key) {
  const { view } = viewOf(key);
  if (hidden.value.has(key) || !view || isFlow(key)) return "";
  const { elsewhere } = byView(key, readingOf(key)?.picture?.lines ?? []);
  const names = [...new Set(elsewhere.map((each) => asLine(each).words))];
  return names.length
    ? `The engine laid ${names.join(", ")} in another view; ${titleOf(view)} does not carry ${names.length > 1 ? "them" : "it"}.`
    : "";
}

/** @param {string} key @param {number} frame */
export const foundOn = (key, frame) => foundOf(key).filter((each) => each.frame === frame);

/** Frames on which something is proposed. @param {string} key */
export const framesOf = (key) => [...new Set(foundOf(key).map((each) => each.frame))].sort((a, b) => a - b);

/** Make what was found the mentor's marks. @param {string} clip @param {Found[]} found */
export function keepFound(clip, found) {
  const marks = found.map(({ landmark, frame, points, words, spread_px }) => {
    const kind = points.length === 1 ? "point" : "line";
    const spread = Math.round(spread_px * 1000) / 1000 || null;
    return {
      mark: newId(),
      clip,
      frame,
      kind,
      points: tidy(points),
      landmark,
      label: words,
      proposed_spread_px: spread,
    };
  });
  if (!sayAll(marks.map((payload) => ({ action: "draw mark", payload })))) return;
  told.value = found.length === 1 ? `Marked: ${found[0].words}.` : `${foundWords(found)} marked.`;
}

/** "3 landmarks and 1 caliper". @param {Found[]} found */
export function foundWords(found) {
  const points = found.filter((each) => each.landmark).length;
  const said = [
    points ? count(points, "landmark") : "",
    found.length > points ? count(found.length - points, "caliper") : "",
  ];
  return said.filter(Boolean).join(" and ");
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
    told.value = "What was found is hidden.";
    return;
  }
  const frames = framesOf(key);
  areShown.value = true;
  if (frames.length === 0) {
    told.value = hidden.value.has(key) ? "Judge this clip first." : "Nothing is proposed on this clip.";
    return;
  }
  const now = player.frame.value;
  const nearest = frames.reduce((best, each) => (Math.abs(each - now) < Math.abs(best - now) ? each : best));
  showAt(player, nearest);
  told.value = `${foundWords(foundOn(key, nearest))} proposed on frame ${nearest + 1}. Shift F3 makes all of them your marks.`;
}

/** Keep all that is shown on the frame that stands; what nobody looked at is shown first. @param {Player} player @param {string} key */
export function keepAllFound(player, key) {
  if (!areShown.value) {
    toggleFound(player, key);
    return;
  }
  const here = foundOn(key, player.frame.value);
  if (here.length > 0) keepFound(key, here);
  else told.value = `Nothing is proposed on this frame${framesWords(key)}.`;
}

/** @param {string} key */
function framesWords(key) {
  const frames = framesOf(key);
  return frames.length
    ? `; there are some on ${frames.length > 1 ? "frames" : "frame"} ${frames.map((each) => each + 1).join(", ")}`
    : "";
}
