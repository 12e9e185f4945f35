// Times of frames and beats of a clip, from what the files and the engine say. Pure.

const ASSUMED_MS = 1000 / 30;

/** @param {any} clip @param {any} reading @returns {{times: number[], isTrue: boolean}} ms of each frame from the first */
export function frameTimes(clip, reading) {
  const stated = [reading?.time?.times?.times_ms, clip.times?.times_ms].find((each) => each?.length === clip.n_frames);
  if (stated && clip.n_frames > 1 && stated[stated.length - 1] > stated[0]) {
    return { times: stated.map((/** @type {number} */ t) => t - stated[0]), isTrue: true };
  }
  return { times: Array.from({ length: clip.n_frames }, (_, k) => k * ASSUMED_MS), isTrue: clip.n_frames < 2 };
}

/** How long the clip lasts: the last frame stands as long as the one before. @param {number[]} times */
export function lasts(times) {
  const n = times.length;
  return n < 2 ? 0 : times[n - 1] + (times[n - 1] - times[n - 2]);
}

/** The frame that stands at a time. @param {number[]} times @param {number} ms */
export function frameAt(times, ms) {
  let low = 0;
  let high = times.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (times[middle] <= ms) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** First frames of the beats. @param {any} reading @param {number} n @returns {number[]} */
export function beatStarts(reading, n) {
  const time = reading?.time;
  if (!time) return [];
  if (time.r_frames.length > 1)
    return time.r_frames.map(Math.round).filter((/** @type {number} */ f) => f >= 0 && f < n);
  const period = time.beat_period_frames;
  if (!period || period < 2 || period > n) return [];
  const first = time.end_diastole_frames[0] ?? time.r_frames[0] ?? 0;
  const start = first - Math.floor(first / period) * period;
  return Array.from({ length: Math.floor((n - 1 - start) / period) + 1 }, (_, k) => Math.round(start + k * period));
}

/** The beat in which a frame lies, as first and last frame; null when no whole beat is there. @param {number[]} starts @param {number} at */
export function beatAround(starts, at) {
  if (starts.length < 2) return null;
  let n = starts.findLastIndex((start) => start <= at);
  n = Math.min(Math.max(n, 0), starts.length - 2);
  return { first: starts[n], last: Math.max(starts[n], starts[n + 1] - 1) };
}

/** The same place one beat on or back; the start of the clip's beats otherwise. @param {number[]} starts @param {number} at @param {1 | -1} sense */
export function beatStep(starts, at, sense) {
  if (starts.length === 0) return null;
  if (sense > 0) return starts.find((start) => start > at) ?? starts[0];
  return starts.findLast((start) => start < at) ?? starts[starts.length - 1];
}
