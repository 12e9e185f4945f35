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

/** @param {any} shape where its words stand @returns {number[]} */
function anchor(shape) {
  if (shape.kind === "box") return [shape.row0, shape.col0];
  if (shape.kind === "polyline") return shape.points[0] ?? [0, 0];
  return shape.runs[0]?.slice(0, 2) ?? [0, 0];
}

/** @param {{laid: Laid, finding: any, frame: number}} props evidence of this frame, or of the whole clip */
export function EvidenceShapes({ laid, finding, frame }) {
  const shown = finding.evidence.filter((/** @type {any} */ each) => each.frame === null || each.frame === frame);
  return html`<g class="evidence">
    ${shown.map((/** @type {any} */ each, /** @type {number} */ n) => {
      const d = shapePath(laid, each.shape);
      const [x, y] = toScreen(laid, anchor(each.shape));
      return html`<g key=${n}>
        <path class="under" d=${d} /><path class=${`over ${each.shape.kind}`} d=${d} />
        ${each.label ? html`<text x=${x + 6} y=${Math.max(y - 6, 12)}>${each.label}</text>` : null}
      </g>`;
    })}
  </g>`;
}
