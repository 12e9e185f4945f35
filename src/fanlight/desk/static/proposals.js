// Views that were recognised from the pixels: proposals, until somebody decides. One key confirms all of them.
import { clips, hidden, isOnItsWay, page, readingOf, sayAll, steps, told, viewOf } from "./model.js";
import { placeIn, valveAtFirst } from "./placing.js";
import { count } from "./words.js";

/** @typedef {{view: string, probability: number}} Share `view` "": none of the standard views */

const NAMED = 3; // likeliest views of a clip that is not sure: more are not read at a glance (engineering judgement)
const LEAST_NAMED = 0.05; // a view less likely than that is not named (engineering judgement)

/** What the pixels say of a clip, the likeliest first; nothing while it is to be judged blind. @param {string} key @returns {Share[]} */
export const sharesOf = (key) => (hidden.value.has(key) ? [] : (readingOf(key)?.picture?.views ?? []));

/** The likeliest views that are worth a word. @param {string} key @param {string} [but] a view that was named already @returns {Share[]} */
export const candidates = (key, but = "") =>
  sharesOf(key)
    .filter((each) => each.view && each.view !== but && each.probability >= LEAST_NAMED)
    .slice(0, NAMED);

/** The share of none of the standard views, 0 where nothing is said of it. @param {string} key */
export const shareOfNone = (key) => sharesOf(key).find((each) => !each.view)?.probability ?? 0;

/** Clips with a proposed view that nobody decided on. */
export const proposed = () => clips.value.filter((each) => viewOf(each.key).said === "engine" && !isOnItsWay(each.key));

/** The step of a view; of one that the plan does not ask for, what stands for it. @param {string} view */
export const placeOfView = (view) =>
  steps.value.find((each) => each.view === view) ?? {
    letter: "",
    view,
    title: page.value?.plan?.views?.[view]?.title ?? view,
  };

/** Place a clip in a view. @param {string} key @param {string} view */
export const chooseView = (key, view) => placeIn(key, placeOfView(view));

/** What makes the proposed view of a clip the mentor's. @param {string} key */
export function confirming(key) {
  const { view } = viewOf(key);
  return { action: "place clip", payload: { clip: key, view, valve: valveAtFirst(key, view) } };
}

/** Confirm every proposed view. Clips that are to be judged blind show none, and are left out. */
export function confirmAll() {
  const all = proposed();
  const left = leftOut();
  if (all.length === 0) told.value = `No view is proposed that waits for a word.${left}`;
  else if (sayAll(all.map((each) => confirming(each.key))))
    told.value = `${count(all.length, "proposed view")} confirmed.${left} Backspace takes ${all.length > 1 ? "all of them" : "it"} back.`;
}

/** Which clips "all" does not mean, in words. */
function leftOut() {
  const blind = clips.value.filter((each) => hidden.value.has(each.key)).length;
  const open = clips.value.filter((each) => !viewOf(each.key).view && !hidden.value.has(each.key)).length;
  return [
    blind ? ` ${count(blind, "clip")} to be judged first, left out.` : "",
    open ? ` ${count(open, "clip")} without a view.` : "",
  ].join("");
}
