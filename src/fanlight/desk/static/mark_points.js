// Points of a mark are moved: dragged, or with the arrow keys when one has the focus. What is moved is said once it rests.
import { page, say } from "./model.js";
import { toPicture, toScreen } from "./view.js";

/** @typedef {{of: any, study: string, points: number[][]} | null} Moved a mark on its way, not yet said */
/** @typedef {import("./html.js").Signal<Moved>} MovedSignal */

const RESTS_MS = 700;
const ENDS = ["pointerup", "pointercancel"]; // of a drag; the system cancels one when it takes the pointer for itself
let resting = 0;

/** Round to a hundredth of a pixel: no more is meant. @param {number[][]} points */
export const tidy = (points) => points.map((point) => point.map((v) => Math.round(v * 100) / 100));

/** By how many rows and columns an arrow key moves: one pixel, ten with Shift. @param {KeyboardEvent} event @returns {number[] | undefined} */
export function stepOf(event) {
  const by = event.shiftKey ? 10 : 1;
  return { ArrowUp: [-by, 0], ArrowDown: [by, 0], ArrowLeft: [0, -by], ArrowRight: [0, by] }[event.key];
}

/** @param {any} mark @param {number} n @param {number[]} point */
const withPoint = (mark, n, point) =>
  mark.points.map((/** @type {number[]} */ each, /** @type {number} */ k) => (k === n ? point : each));

/** @param {any} mark @param {number[][]} points @returns {Moved} */
const onItsWay = (mark, points) => ({ of: mark, study: page.value?.id ?? "", points });

/** Say a mark that moved; one that the engine read is drawn by who moves it. @param {any} mark @param {number[][]} points */
function sayMoved({ mark, clip, frame, kind, landmark, label, from }, points) {
  if (!from) return say("move mark", { mark, clip, frame, points }, clip);
  return say("draw mark", { mark, clip, frame, kind, points, landmark, label }, clip);
}

/** Say where a mark was moved to. It stays on its way as long as nobody gave a name to say it by. @param {MovedSignal} moved @returns {boolean} whether none is on its way any more */
export function settle(moved) {
  window.clearTimeout(resting);
  if (!moved.value) return true;
  const { of, study, points } = moved.value;
  const isHere = page.value?.id === study;
  if (isHere && !sayMoved(of, tidy(points))) return false;
  moved.value = null;
  return true;
}

/** Say where another mark was moved to before this one is touched. @param {any} mark @param {MovedSignal} moved */
const isFree = (mark, moved) => moved.value?.of.mark === mark.mark || settle(moved);

const MOST_HELD = 24; // points of a trace that can each be moved: one that was drawn in one go has many more

/** Numbers of the points by which a mark is moved. @param {string} kind @param {number[][]} points */
export const heldPoints = (kind, points) =>
  kind === "trace" && points.length > MOST_HELD ? [0, points.length - 1] : points.map((_, n) => n);

/** Which point of a mark a press means: of those that lie close together, the nearest. @param {PointerEvent} event @param {string} kind @param {number[][]} points @param {import("./view.js").Laid} laid */
export function pressedPoint(event, kind, points, laid) {
  const box = /** @type {Element} */ (
    /** @type {Element} */ (event.currentTarget).closest("svg")
  ).getBoundingClientRect();
  const off = (/** @type {number} */ n) => {
    const [x, y] = toScreen(laid, points[n]);
    return Math.hypot(event.clientX - box.left - x, event.clientY - box.top - y);
  };
  return heldPoints(kind, points).reduce((best, n) => (off(n) < off(best) ? n : best));
}

/** Drag one point. @param {PointerEvent} event @param {any} mark @param {number} n @param {import("./view.js").Laid} laid @param {(point: number[]) => number[]} onPicture @param {MovedSignal} moved */
export function dragPoint(event, mark, n, laid, onPicture, moved) {
  if (event.button !== 0) return;
  event.stopPropagation();
  if (!isFree(mark, moved)) return;
  window.clearTimeout(resting); // what rests since an arrow key goes with the drag
  const on = /** @type {Element} */ (event.currentTarget);
  const box = /** @type {Element} */ (on.closest("svg")).getBoundingClientRect();
  const go = (/** @type {PointerEvent} */ now) => {
    const point = onPicture(toPicture(laid, now.clientX - box.left, now.clientY - box.top));
    moved.value = onItsWay(mark, withPoint(mark, n, point));
  };
  const stop = () => {
    window.removeEventListener("pointermove", go);
    for (const end of ENDS) window.removeEventListener(end, stop);
    settle(moved);
  };
  window.addEventListener("pointermove", go);
  for (const end of ENDS) window.addEventListener(end, stop);
}

/** Move one point with the arrow keys, or take its mark off. @param {KeyboardEvent} event @param {any} mark @param {number} n @param {(point: number[]) => number[]} onPicture @param {MovedSignal} moved */
export function nudgePoint(event, mark, n, onPicture, moved) {
  const by = stepOf(event);
  if (by && isFree(mark, moved)) {
    const [row, col] = mark.points[n];
    moved.value = onItsWay(mark, withPoint(mark, n, onPicture([row + by[0], col + by[1]])));
    window.clearTimeout(resting);
    resting = window.setTimeout(() => settle(moved), RESTS_MS);
  } else if (event.key === "Enter") settle(moved);
  else if (event.key === "Delete") {
    if (isFree(mark, moved)) {
      window.clearTimeout(resting);
      moved.value = null;
    }
    if (!mark.from) say("remove mark", { mark: mark.mark, clip: mark.clip }, mark.clip);
  } else if (event.key === "Escape") {
    settle(moved);
    /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.currentTarget).closest("svg"))?.focus();
  } else if (!by) return;
  event.preventDefault();
  event.stopPropagation();
}
