// How a picture lies on the stage: size, place and window of grey. Pure numbers.

/**
 * @typedef {{zoom: number, panX: number, panY: number, low: number, high: number}} View `zoom` 0: as large as fits
 * @typedef {{scale: number, left: number, top: number}} Laid screen pixels for each pixel of the picture, and where it begins
 */

export const AS_STORED = Object.freeze({ zoom: 0, panX: 0, panY: 0, low: 0, high: 1 });

/** Whole multiples when enlarged; a picture larger than the stage is made to fit. @param {number} ratio */
export function fitting(
  /** @type {number} */ wide,
  /** @type {number} */ high,
  /** @type {number} */ cols,
  /** @type {number} */ rows,
  ratio = 1,
) {
  const most = Math.min(wide / cols, high / rows) * ratio;
  return (most >= 1 ? Math.floor(most) : most) / ratio;
}

/** @param {View} view @param {{width: number, height: number}} stage @param {{rows: number, cols: number}} picture @param {number} ratio @returns {Laid} */
export function lay(view, stage, picture, ratio) {
  const fit = fitting(stage.width, stage.height, picture.cols, picture.rows, ratio);
  const scale = view.zoom === 0 ? fit : view.zoom / ratio;
  const snap = (/** @type {number} */ v) => Math.round(v * ratio) / ratio;
  return {
    scale,
    left: snap((stage.width - picture.cols * scale) / 2 + view.panX),
    top: snap((stage.height - picture.rows * scale) / 2 + view.panY),
  };
}

/** The next size up or down: fit, then whole multiples. @param {View} view @param {number} fit size that fits, device pixels @param {1 | -1} sense @returns {View} */
export function resized(view, fit, sense) {
  const now = view.zoom === 0 ? fit : view.zoom;
  if (sense > 0) return { ...view, zoom: Math.min(8, Math.floor(now + 1e-6) + 1) };
  const next = Math.ceil(now - 1e-6) - 1;
  return next <= fit ? { ...view, zoom: 0, panX: 0, panY: 0 } : { ...view, zoom: next };
}

/** @param {View} view @param {number} shift brighter below 0 @param {number} widen more contrast below 1 @returns {View} */
export function regreyed(view, shift, widen) {
  const middle = (view.low + view.high) / 2 + shift;
  const half = Math.min(1, Math.max(0.05, ((view.high - view.low) / 2) * widen));
  const held = Math.min(1, Math.max(0, middle));
  return { ...view, low: held - half, high: held + half };
}

/**
 * The window of grey as a filter of the style sheet: v becomes (v − low) / (high − low).
 * A filter clips between its steps, so the step that keeps within 0 and 1 comes first.
 * @param {View} view
 */
export function greyFilter(view) {
  const { low, high } = view;
  if (low === 0 && high === 1) return "none";
  const slope = 1 / (high - low);
  if (low < 0) return `contrast(${1 / (1 - 2 * low)}) brightness(${slope * (1 - 2 * low)})`;
  const contrast = 1 + 2 * low * slope;
  return `brightness(${slope / contrast}) contrast(${contrast})`;
}

/** Screen to picture; a point is [row, col], pixel centres at whole numbers. @param {Laid} laid @returns {[number, number]} */
export function toPicture(laid, /** @type {number} */ x, /** @type {number} */ y) {
  return [(y - laid.top) / laid.scale - 0.5, (x - laid.left) / laid.scale - 0.5];
}

/** Picture to screen. @param {Laid} laid @param {number[]} point @returns {[number, number]} x and y */
export function toScreen(laid, point) {
  return [laid.left + (point[1] + 0.5) * laid.scale, laid.top + (point[0] + 0.5) * laid.scale];
}
