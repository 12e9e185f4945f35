// Putting a clip into a view, and saying of which valve its Doppler is.
import { isAway, waiting } from "./acts.js";
import { clips, page, readingOf, say, state, told, viewOf } from "./model.js";

/** @type {Record<string, string>} */
const RUNG_OF = { colour: "colour", power: "colour", pulsed_wave: "PW", continuous_wave: "CW" };
const FLOW = new Set(["colour", "power", "pulsed_wave", "continuous_wave", "tissue_doppler"]);

/** The valve of a clip, as the mentor or the file says; null: nobody did. @param {string} key @returns {string | null} */
export function valveOf(key) {
  const put = state.value.placements[key];
  return put ? (put.valve ?? null) : (page.value?.review?.views?.[key]?.valve ?? readingOf(key)?.view?.valve ?? null);
}

/** Whether a clip shows flow or movement by Doppler. @param {string | undefined} key */
export const isFlow = (key) => Boolean(key) && FLOW.has(readingOf(key ?? "")?.mode?.mode);

/** Valves that a Doppler clip of this view may be about; none for a picture without flow. @param {string} key @param {string} view @returns {string[]} */
export function valvesFor(key, view) {
  return isFlow(key) ? (page.value?.plan?.views?.[view]?.valves ?? []) : [];
}

/** The valve that a Doppler clip is taken to be about when it comes into a view: the only one that can be, else none yet. @param {string} key @param {string} view @returns {string | null} */
export function valveAtFirst(key, view) {
  const rung = RUNG_OF[readingOf(key)?.mode?.mode];
  const able = rung ? (page.value?.plan?.views?.[view]?.serves?.[rung] ?? []) : valvesFor(key, view);
  const known = valveOf(key);
  if (known !== null && able.includes(known)) return known;
  return able.length === 1 ? able[0] : null;
}

/** The valve of a clip; of one with a proposed view that which confirming it says. @param {string} key @returns {string | null} */
export function valveShown(key) {
  const { view, said } = viewOf(key);
  return said === "engine" ? valveAtFirst(key, view) : valveOf(key);
}

/** The valve that the letter says when it is pressed again: the next one of the view. @param {string[]} valves @param {string | null} now */
export const nextValve = (valves, now) => valves[(now === null ? 0 : valves.indexOf(now) + 1) % valves.length] ?? null;

/** Put a clip into a step. @param {string} key @param {any} step */
export function placeIn(key, step) {
  if (!key) return false;
  const valves = valvesFor(key, step.view);
  const isAgain =
    valves.length > 1 && viewOf(key).view === step.view && state.value.placements[key]?.view === step.view;
  const valve = isAgain ? nextValve(valves, valveOf(key)) : valveAtFirst(key, step.view);
  const done = say("place clip", { clip: key, view: step.view, valve }, key);
  const number = clips.value.find((each) => each.key === key)?.number;
  if (!done) return done;
  const which = valve ? `, ${valve} valve` : "";
  const more = valves.length > 1 && step.letter ? ` ${step.letter} again: ${nextValve(valves, valve)} valve.` : "";
  told.value = `Clip ${number} is in ${step.letter ? `${step.letter}, ` : ""}${step.title}${which}.${more}`;
  return done;
}

/** Whether a clip was put into another view than it was read in just now, and what is told of it there is not here yet. */
export function isBeingPlaced(/** @type {string} */ key) {
  const isSaid = waiting.value.some((each) => each.action === "place clip" && each.clip === key);
  return isSaid && !isAway.value && (readingOf(key)?.view?.view ?? "") !== viewOf(key).view;
}
