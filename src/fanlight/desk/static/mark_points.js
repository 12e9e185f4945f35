// Points of a mark are moved: dragged, or with the arrow keys when one has the focus. What is moved is said once it rests.
import { say } from "./model.js";
import { toPicture } from "./view.js";

/** @typedef {{mark: string, points: number[][]} | null} Moved a mark on its way, not yet said */
/** @typedef {import("./html.js").Signal<Moved>} MovedSignal */

const RESTS_MS = 700;
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

/** @param {any} mark @param {MovedSignal} moved */
function settle(mark, moved) {
  window.clearTimeout(resting);
  const last = moved.value;
  if (!last || last.mark !== mark.mark) return;
  say("move mark", { mark: mark.mark, clip: mark.clip, frame: mark.frame, points: tidy(last.points) }, mark.clip);
  moved.value = null;
}

/** Drag one point. @param {PointerEvent} event @param {any} mark @param {number} n @param {import("./view.js").Laid} laid @param {(point: number[]) => number[]} onPicture @param {MovedSignal} moved */
export function dragPoint(event, mark, n, laid, onPicture, moved) {
  if (event.button !== 0) return;
  event.stopPropagation();
  const on = /** @type {Element} */ (event.currentTarget);
  const box = /** @type {Element} */ (on.closest("svg")).getBoundingClientRect();
  const go = (/** @type {PointerEvent} */ now) => {
    const point = onPicture(toPicture(laid, now.clientX - box.left, now.clientY - box.top));
    moved.value = { mark: mark.mark, points: withPoint(mark, n, point) };
  };
  const stop = () => {
    window.removeEventListener("pointermove", go);
    window.removeEventListener("pointerup", stop);
    settle(mark, moved);
  };
  window.addEventListener("pointermove", go);
  window.addEventListener("pointerup", stop);
}

/** Move one point with the arrow keys, or take its mark off. @param {KeyboardEvent} event @param {any} mark @param {number} n @param {(point: number[]) => number[]} onPicture @param {MovedSignal} moved */
export function nudgePoint(event, mark, n, onPicture, moved) {
  const by = stepOf(event);
  if (by) {
    const [row, col] = mark.points[n];
    moved.value = { mark: mark.mark, points: withPoint(mark, n, onPicture([row + by[0], col + by[1]])) };
    window.clearTimeout(resting);
    resting = window.setTimeout(() => settle(mark, moved), RESTS_MS);
  } else if (event.key === "Enter") settle(mark, moved);
  else if (event.key === "Delete") {
    window.clearTimeout(resting);
    moved.value = null;
    say("remove mark", { mark: mark.mark, clip: mark.clip }, mark.clip);
  } else if (event.key === "Escape") {
    settle(mark, moved);
    /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.currentTarget).closest("svg"))?.focus();
  } else return;
  event.preventDefault();
  event.stopPropagation();
}
