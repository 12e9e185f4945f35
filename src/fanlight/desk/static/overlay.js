// What lies over the picture: evidence of the chosen finding. SVG in screen pixels.
import { html } from "./html.js";
import { toScreen } from "./view.js";

/** @typedef {import("./view.js").Laid} Laid */

/** @param {Laid} laid @param {number[][]} points */
export function path(laid, points, closed = false) {
  const said = points.map((point) =>
    toScreen(laid, point)
      .map((v) => v.toFixed(1))
      .join(" "),
  );
  return `M${said.join("L")}${closed ? "Z" : ""}`;
}

/** @param {any} shape @returns {number[][]} */
function corners(shape) {
  const { row0, col0, row1, col1 } = shape; // the last row and column are outside
  return [
    [row0 - 0.5, col0 - 0.5],
    [row0 - 0.5, col1 - 0.5],
    [row1 - 0.5, col1 - 0.5],
    [row1 - 0.5, col0 - 0.5],
  ];
}

/** @param {Laid} laid @param {any} shape */
function shapePath(laid, shape) {
  if (shape.kind === "box") return path(laid, corners(shape), true);
  if (shape.kind === "polyline") return path(laid, shape.points, shape.closed);
  return shape.runs
    .map((/** @type {[number, number, number]} */ [row, col, length]) =>
      path(laid, corners({ row0: row, col0: col, row1: row + 1, col1: col + length }), true),
    )
    .join("");
}

/** @param {any} shape where its words stand: at an open line in its middle, so that two edges that meet do not share a place @returns {number[]} */
function anchor(shape) {
  if (shape.kind === "box") return [shape.row0, shape.col0];
  if (shape.kind === "polyline") {
    const { points, closed } = shape;
    return points[closed ? 0 : points.length >> 1] ?? [0, 0];
  }
  return shape.runs[0]?.slice(0, 2) ?? [0, 0];
}

/** The words at the shapes; one that would stand on another goes below it, the same word near by is said once. @param {Laid} laid @param {any[]} shown */
export function labels(laid, shown) {
  /** @type {{x: number, y: number, label: string}[]} */
  const placed = [];
  for (const each of shown.filter((one) => one.label)) {
    const [left, top] = toScreen(laid, anchor(each.shape));
    const [x, y] = [left + 6, Math.max(top - 6, 12)];
    const near = placed.filter((one) => Math.abs(one.x - x) < 7 * one.label.length && Math.abs(one.y - y) < 14);
    if (near.some((one) => one.label === each.label)) continue;
    placed.push({ x, y: near.length ? Math.max(...near.map((one) => one.y)) + 15 : y, label: each.label });
  }
  return placed;
}

/** @param {{laid: Laid, finding: any, frame: number}} props evidence of this frame, or of the whole clip */
export function EvidenceShapes({ laid, finding, frame }) {
  const shown = finding.evidence.filter((/** @type {any} */ each) => each.frame === null || each.frame === frame);
  return html`<g class="evidence">
    ${shown.map((/** @type {any} */ each, /** @type {number} */ n) => {
      const d = shapePath(laid, each.shape);
      return html`<g key=${n}><path class="under" d=${d} /><path class=${`over ${each.shape.kind}`} d=${d} /></g>`;
    })}
    ${labels(laid, shown).map(({ x, y, label }, n) => html`<text key=${`t${n}`} x=${x} y=${y}>${label}</text>`)}
  </g>`;
}
