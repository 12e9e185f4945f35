// Lengths, angles and areas of marks, in mm where the clip is calibrated. A point is [row, col] in pixels. Pure.

/** @typedef {{mm_per_row_px: number, mm_per_col_px: number, by: "file" | "mentor"}} Scale */

/** The scale of a clip: what a person marked goes before what was read. @param {any} reading @param {any} marked @returns {Scale | null} */
export function scaleOf(reading, marked) {
  if (marked) {
    const { start, end, distance_mm } = marked.distance;
    const mm = distance_mm / Math.hypot(end[0] - start[0], end[1] - start[1]);
    return { mm_per_row_px: mm, mm_per_col_px: mm, by: "mentor" };
  }
  const scale = reading?.layout?.scale;
  return scale ? { mm_per_row_px: scale.mm_per_row_px, mm_per_col_px: scale.mm_per_col_px, by: "file" } : null;
}

/** @param {number[]} a @param {number[]} b @param {Scale | null} scale @returns {number} mm, or pixels without a scale */
export function distance(a, b, scale) {
  const [down, across] = scale ? [scale.mm_per_row_px, scale.mm_per_col_px] : [1, 1];
  return Math.hypot((b[0] - a[0]) * down, (b[1] - a[1]) * across);
}

/** The angle at the middle point, degrees. @param {number[][]} points @param {Scale | null} scale */
export function angleDeg([a, corner, b], scale) {
  const [down, across] = scale ? [scale.mm_per_row_px, scale.mm_per_col_px] : [1, 1];
  const arm = (/** @type {number[]} */ p) => [(p[0] - corner[0]) * down, (p[1] - corner[1]) * across];
  const [u, v] = [arm(a), arm(b)];
  const cosine = (u[0] * v[0] + u[1] * v[1]) / (Math.hypot(...u) * Math.hypot(...v));
  return (Math.acos(Math.min(1, Math.max(-1, cosine))) * 180) / Math.PI;
}

/** Length of a path. @param {number[][]} points @param {Scale | null} scale */
export function pathLength(points, scale) {
  return points.slice(1).reduce((sum, point, n) => sum + distance(points[n], point, scale), 0);
}

/** Area within a path closed by a straight line (shoelace formula), mm² or px². @param {number[][]} points @param {Scale | null} scale */
export function area(points, scale) {
  const [down, across] = scale ? [scale.mm_per_row_px, scale.mm_per_col_px] : [1, 1];
  let twice = 0;
  points.forEach((point, n) => {
    const next = points[(n + 1) % points.length];
    twice += point[1] * across * next[0] * down - next[1] * across * point[0] * down;
  });
  return Math.abs(twice) / 2;
}

/** What a mark says at once. @param {string} kind @param {number[][]} points @param {Scale | null} scale */
export function readOut(kind, points, scale) {
  const unit = scale ? "mm" : "px";
  const said = (/** @type {number} */ v) => (v >= 100 ? v.toFixed(0) : v.toFixed(1));
  if (kind === "point" || points.length < 2) return "";
  if (kind === "angle") return points.length < 3 ? "" : `${angleDeg(points, scale).toFixed(0)}°`;
  if (kind === "line" || kind === "scale") return `${said(distance(points[0], points[1], scale))} ${unit}`;
  const inside = area(points, scale);
  const surface = scale ? `${(inside / 100).toFixed(2)} cm²` : `${inside.toFixed(0)} px²`;
  return `${said(pathLength(points, scale))} ${unit}, ${surface}`;
}
