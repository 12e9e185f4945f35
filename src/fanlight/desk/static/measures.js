// Lengths, angles and areas of shapes. A point is [row, col] in pixels. Pure.

/** @typedef {{down: number, across: number}} Pixel height and width of a pixel, in mm or in whatever is wanted */

/** @param {number[]} a @param {number[]} b @param {Pixel} pixel */
export function distance(a, b, { down, across }) {
  return Math.hypot((b[0] - a[0]) * down, (b[1] - a[1]) * across);
}

/** The angle at the middle point, degrees; 0 where an arm has no length. @param {number[][]} points @param {Pixel} pixel */
export function angleDeg([a, corner, b], { down, across }) {
  const arm = (/** @type {number[]} */ p) => [(p[0] - corner[0]) * down, (p[1] - corner[1]) * across];
  const [u, v] = [arm(a), arm(b)];
  return (Math.atan2(Math.abs(u[0] * v[1] - u[1] * v[0]), u[0] * v[0] + u[1] * v[1]) * 180) / Math.PI;
}

/** Length of a path. @param {number[][]} points @param {Pixel} pixel */
export function pathLength(points, pixel) {
  return points.slice(1).reduce((sum, point, n) => sum + distance(points[n], point, pixel), 0);
}

/** Area within a path closed by a straight line (shoelace formula). @param {number[][]} points @param {Pixel} pixel */
export function area(points, { down, across }) {
  let twice = 0;
  points.forEach((point, n) => {
    const next = points[(n + 1) % points.length];
    twice += point[1] * across * next[0] * down - next[1] * across * point[0] * down;
  });
  return Math.abs(twice) / 2;
}
