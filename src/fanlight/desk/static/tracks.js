// Marks followed through the beat: asked of the service, made anew when a mark moves or the scale is another one.
import { waiting } from "./acts.js";
import { post } from "./api.js";
import { areaAt } from "./areas.js";
import { signal } from "./html.js";
import { page, readingOf, state, told } from "./model.js";
import { areasFor } from "./scales.js";

/**
 * @typedef {{name: string, unit: string, values: number[], errors: number[], smallest_frame: number, largest_frame: number}} Curve
 * @typedef {{method: string, marked: number, first: number, points: number[][][], errors: number[], unit: string, drift: number | null, curves: Curve[], stopped: string[]}} Track
 * @typedef {{of: string, track: Track | null, trouble: string}} Held `of` says what it was made from
 */

/** By the mark's id; a mark that is not here is not followed. */
export const tracks = signal(/** @type {Record<string, Held>} */ ({}));

/** What a track is made from: when this changes, the track is old. @param {any} mark */
function madeFrom(mark) {
  const { mmPerRow, mmPerCol } = areaAt(mark.points, areasFor({ key: mark.clip }, readingOf(mark.clip)));
  const scale = [mmPerRow ?? null, mmPerCol ?? null];
  return JSON.stringify([page.value?.id, mark.clip, mark.kind, mark.frame, mark.points, scale]);
}

/** @param {string} id @param {Held | null} held */
function hold(id, held) {
  const { [id]: _, ...others } = tracks.value;
  tracks.value = held ? { ...others, [id]: held } : others;
}

/** Follow a mark through its beat, or follow it no more. @param {any} mark */
export function toggleTrack(mark) {
  if (tracks.value[mark.mark]) hold(mark.mark, null);
  else ask(mark);
}

/** What was asked last: the service follows one mark after another, and a browser has few connections. */
let before = Promise.resolve();

/** @param {any} mark */
function ask(mark) {
  const of = madeFrom(mark);
  const study = page.value.id;
  if (tracks.value[mark.mark]?.of === of) return;
  hold(mark.mark, { of, track: null, trouble: "" });
  before = before.then(() => askNow(mark, of, study));
}

/** @param {any} mark @param {string} of @param {string} study */
async function askNow(mark, of, study) {
  const isWanted = () => tracks.value[mark.mark]?.of === of; // else it was moved, or put off, meanwhile
  if (!isWanted()) return;
  /** @type {Held} */
  let held;
  try {
    const body = { kind: mark.kind, frame: mark.frame, points: mark.points };
    held = { of, track: await post(`/api/studies/${study}/clips/${mark.clip}/track`, body), trouble: "" };
  } catch (error) {
    held = { of, track: null, trouble: error instanceof Error ? error.message : String(error) };
  }
  if (!isWanted()) return;
  hold(mark.mark, held);
  if (held.trouble) told.value = held.trouble;
  else
    told.value = held.track?.stopped.length
      ? `Followed as far as it can be believed: ${held.track.stopped.join("; ")}.`
      : "Followed.";
}

/** Make tracks anew whose marks have moved; forget those of marks that are gone. Call in an effect. */
export function keepTracks() {
  const marks = state.value.marks;
  if (waiting.value.length > 0) return; // the service does not know yet what was moved or scaled
  for (const [id, held] of Object.entries(tracks.value)) {
    const mark = marks.find((/** @type {any} */ each) => each.mark === id);
    if (!mark) hold(id, null);
    else if (readingOf(mark.clip)?.layout && held.of !== madeFrom(mark)) ask(mark); // else its scale is not here yet
  }
}

/** Follow every mark of a clip, or none when all are followed. @param {string} clip */
export function toggleTracks(clip) {
  const mine = state.value.marks.filter((/** @type {any} */ each) => each.clip === clip);
  if (mine.length === 0) {
    told.value = "This clip has no marks: F2 sets one.";
    return;
  }
  const isAll = mine.every((/** @type {any} */ each) => tracks.value[each.mark]);
  for (const each of mine) if (isAll || !tracks.value[each.mark]) toggleTrack(each);
  told.value = isAll ? "Marks stand on their own frames." : "Following the marks through the beat …";
}

/** Where a followed mark lies on a frame, null where it is not followed to. @param {Held | undefined} held @param {number} frame */
export function trackedAt(held, frame) {
  const at = held?.track ? frame - held.track.first : -1;
  return held?.track && at >= 0 && at < held.track.points.length ? held.track.points[at] : null;
}

/** Value and error on a frame, in words of the engine. @param {Track} track @param {number} frame */
export function trackedWords(track, frame) {
  const at = frame - track.first;
  const words = track.curves.map((each) => curveWords(each, at));
  return words.length > 0 ? words.join(" · ") : `± ${track.errors[at].toFixed(1)} ${track.unit}`;
}

/** @param {Curve} curve @param {number} at place in the curve */
export function curveWords({ values, errors, unit }, at) {
  const [value, error] = unit === "mm²" ? [values[at] / 100, errors[at] / 100] : [values[at], errors[at]];
  const digits = unit === "mm²" ? 2 : unit === "°" || unit.startsWith("px") ? 0 : 1;
  const name = unit === "mm²" ? "cm²" : unit;
  return `${value.toFixed(digits)} ± ${error.toFixed(digits)} ${name}`.replace(" °", "°");
}
