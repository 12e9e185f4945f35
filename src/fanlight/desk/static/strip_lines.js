// What the engine read off a strip: its lines and where each number was taken. Asked of the service when the strip is
// on the stage; what a person moves becomes that person's mark.
import { waiting } from "./acts.js";
import { get, newId, Told } from "./api.js";
import { signal } from "./html.js";
import { keptSignal } from "./kept.js";
import { clipKey, hidden, isWhole, page, readingOf, state, told } from "./model.js";
import { valueWords } from "./numbers.js";

/**
 * @typedef {{name: string, words: string, points: number[][], is_seen: boolean}} Course
 * @typedef {{quantity: string, label: string, beat: number, kind: string, points: number[][], value: number | null, unit: string, uncertainty: number | null, reason: string}} Place
 * @typedef {{frame: number, courses: Course[], places: Place[], notes: string[], reason: string}} StripLines
 * @typedef {{reading: any, placed: string, lines: StripLines | null, trouble: string}} Held `reading` and `placed` say what it was read from
 */

const STRIPS = ["m_mode", "pulsed_wave", "continuous_wave", "tissue_doppler"];

/** Whether lines are drawn; each mentor's own habit. */
export const areDrawn = keptSignal("strip lines", true);
/** The place that was chosen in the list: its points have the keyboard. */
export const chosenPlace = signal("");

const held = signal(/** @type {Record<string, Held>} */ ({}));
let ofStudy = "";

/** One name for a place of a strip. @param {Place} place */
export const nameOfPlace = ({ label, kind, beat }) => `${label} ${kind} ${beat}`;

/** Whether a clip is a strip that may be measured. @param {string} key */
export const isStrip = (key) => STRIPS.includes(readingOf(key)?.mode?.mode ?? "");

/** What was read of a clip: null while it is not here, or while the clip is to be judged first. @param {string} key */
export const linesOf = (key) => (hidden.value.has(key) ? null : (held.value[key]?.lines ?? null));

/** Why lines did not come. @param {string} key */
export const troubleOf = (key) => held.value[key]?.trouble ?? "";

/** Lines that are drawn on a frame. @param {string} key @param {number} frame */
export function linesOn(key, frame) {
  const lines = areDrawn.value ? linesOf(key) : null;
  return lines && lines.frame === frame && lines.courses.length + lines.places.length > 0 ? lines : null;
}

/** Whether a clip has lines that are drawn on some frame of it. @param {string} key */
export function hasLines(key) {
  const lines = linesOf(key);
  return lines !== null && linesOn(key, lines.frame) !== null;
}

/** Ask for the lines of the strip on the stage, and anew when it was read or placed otherwise. Call in an effect. */
export function keepLines() {
  const [key, study] = [clipKey.value, page.value?.id ?? ""];
  if (study !== ofStudy) {
    ofStudy = study;
    held.value = {};
  }
  // The service does not know yet what is on its way; a reading without its numbers tells no frame.
  if (!study || waiting.value.length > 0 || !isWhole.value || !isStrip(key) || hidden.value.has(key)) return;
  const [reading, placed] = [readingOf(key), JSON.stringify(state.value.placements[key] ?? null)];
  const was = held.value[key];
  if (was?.reading === reading && was.placed === placed) return;
  hold(key, { reading, placed, lines: was?.lines ?? null, trouble: "" });
  void fetchLines(study, key);
}

/** @param {string} key @param {Held} mine */
function hold(key, mine) {
  held.value = { ...held.value, [key]: mine };
}

/** @param {string} study @param {string} key */
async function fetchLines(study, key) {
  const mine = held.value[key];
  /** @type {Held} */
  let found;
  try {
    found = { ...mine, lines: await get(`/api/studies/${study}/clips/${key}/lines`) };
  } catch (error) {
    if (!(error instanceof Error)) throw error;
    const trouble = error instanceof Told ? error.message : "The lines of this strip did not come.";
    found = { ...mine, lines: null, trouble };
  }
  if (held.value[key] === mine) hold(key, found); // else it was asked for anew meanwhile
}

/** Draw the lines of the strip on the stage, or hide them. @param {import("./player.js").Player} player @param {string} key */
export function toggleLines(player, key) {
  areDrawn.value = !areDrawn.value;
  const lines = linesOf(key);
  if (areDrawn.value && lines) showLines(player, lines);
  told.value = areDrawn.value
    ? lines?.reason
      ? `Nothing was measured here: ${lines.reason}.`
      : "Lines are shown."
    : "Lines are hidden.";
}

/** Stop at the frame on which lines stand. @param {import("./player.js").Player} player @param {StripLines} lines */
export function showLines(player, lines) {
  player.isPlaying.value = false;
  if (player.frame.value !== lines.frame) player.show(lines.frame);
}

/** The mark that a place becomes when a person moves it; `from` is the place. @param {string} clip @param {number} frame @param {Place} place */
export const markFrom = (clip, frame, place) => ({
  mark: newId(),
  clip,
  frame,
  kind: place.kind,
  points: place.points,
  landmark: "",
  label: place.label,
  from: nameOfPlace(place),
});

/** @param {number[][]} points */
const middleCol = (points) => points.reduce((sum, [, col]) => sum + col, 0) / points.length;

/**
 * The mentor's own mark in the stead of each place: of the same name and shape, and nearer to this beat than to another.
 * @param {string} clip @param {StripLines} lines @param {any[]} marks
 * @returns {Map<string, any>} by the name of the place
 */
export function ownMarks(clip, lines, marks) {
  const found = new Map();
  for (const mark of marks.filter((each) => each.clip === clip && each.frame === lines.frame)) {
    const alike = lines.places.filter(({ label, kind }) => label === mark.label && kind === mark.kind);
    const off = (/** @type {Place} */ place) => Math.abs(middleCol(place.points) - middleCol(mark.points));
    const [nearest] = [...alike].sort((one, other) => off(one) - off(other));
    if (nearest) found.set(nameOfPlace(nearest), mark);
  }
  return found;
}

/** What stands beside a place. @param {Place} place */
export function placeWords(place) {
  if (place.reason) return `${place.label}, does not count: ${place.reason}`;
  return `${place.label} ${valueWords({ value: place.value, unit: place.unit, uncertainty: place.uncertainty })}`;
}
