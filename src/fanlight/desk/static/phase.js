// Two clips held to the same phase of the beat: R wave to R wave. Pure.
import { beatStarts, frameAt, lasts } from "./beats.js";

/** @typedef {{times: number[], marks: number[]}} Timed `times`: ms of each frame; `marks`: ms at which beats begin */

/** When the beats begin, in ms from the first frame: at the R waves, between frames where they lie there. @param {any} reading @param {number[]} times @returns {number[]} */
export function beatMarks(reading, times) {
  const n = times.length;
  const found = reading?.time?.r_frames ?? [];
  const frames = found.length > 1 ? found : beatStarts(reading, n);
  const whole = lasts(times);
  return frames
    .filter((/** @type {number} */ f) => f >= 0 && f < n)
    .map((/** @type {number} */ f) => {
      const low = Math.floor(f);
      const next = low + 1 < n ? times[low + 1] : whole;
      return times[low] + (f - low) * (next - times[low]);
    });
}

/** Beat and share of it that has passed, 0 to 1; before the first and after the last mark the next beat's length goes on. @param {number[]} marks @param {number} ms */
export function phaseAt(marks, ms) {
  const last = marks.length - 2;
  const beat = Math.min(
    Math.max(
      marks.findLastIndex((mark) => mark <= ms),
      0,
    ),
    last,
  );
  const passed = (ms - marks[beat]) / (marks[beat + 1] - marks[beat]);
  const more = Math.floor(passed);
  return { beat: beat + more, phase: passed - more };
}

/** The time of a phase; beats that the clip does not have are taken from its start again. @param {number[]} marks @param {number} beat @param {number} phase */
export function msAt(marks, beat, phase) {
  const n = marks.length - 1;
  const own = ((beat % n) + n) % n;
  return marks[own] + phase * (marks[own + 1] - marks[own]);
}

/** The frame nearest to a time. @param {number[]} times @param {number} ms */
export function nearest(times, ms) {
  const low = frameAt(times, ms);
  return low + 1 < times.length && times[low + 1] - ms < ms - times[low] ? low + 1 : low;
}

/** The frame of the other clip in the same phase. @param {Timed} one @param {Timed} other @param {number} frame */
export function samePhase(one, other, frame) {
  const { beat, phase } = phaseAt(one.marks, one.times[frame]);
  return nearest(other.times, msAt(other.marks, beat, phase));
}
