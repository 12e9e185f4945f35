// Which part of the screen is scaled how: pictures in mm, M-modes in ms and mm, spectra in ms and cm/s. Pure.
// The same rules as measure/areas.py; tests/measure/read_out_cases.json holds both to them.

/**
 * @typedef {"picture" | "M-mode" | "spectrum" | "not calibrated here"} AreaKind
 * @typedef {{row0: number, col0: number, row1: number, col1: number}} Box
 * @typedef {{kind: AreaKind, box?: Box | null, mmPerRow?: number | null, mmPerCol?: number | null, msPerCol?: number | null, cmsPerRow?: number | null, zeroRow?: number | null}} Area
 * @typedef {{axis: "time" | "velocity" | "baseline", start: number[], end: number[], amount: number}} MarkedAxis
 * @typedef {{depth: {start: number[], end: number[], distance_mm: number} | null, axes: MarkedAxis[]}} Marked what a person marked on a clip
 */

/** @type {Area} */
export const UNKNOWN = { kind: "not calibrated here" };
const SLACK_PX = 2; // a point set at the rim of a part by hand still belongs to it
const LEAST_STRIP = 0.1; // of the rows: less room below the picture holds no strip
// Numbers of PS3.3 C.8.5.5.1: spatial formats, and the unit cm/s.
const [TWO_D, M_MODE, SPECTRAL] = [1, 2, 3];
const CM_PER_S = 7;

/** @param {Area} area @param {number[]} point */
function holds({ box }, [row, col]) {
  if (!box) return true;
  const isDown = box.row0 - SLACK_PX <= row && row <= box.row1 - 1 + SLACK_PX;
  return isDown && box.col0 - SLACK_PX <= col && col <= box.col1 - 1 + SLACK_PX;
}

/** The scaled parts of a screen; of two that hold a point the first counts. @param {any} layout @param {Marked} marked @returns {Area[]} */
export function areasOf(layout, { depth, axes }) {
  /** @type {Map<string, MarkedAxis>} */
  const byAxis = new Map(axes.map((each) => [each.axis, each]));
  const mm = depth ? depth.distance_mm / Math.hypot(...minus(depth.end, depth.start)) : null;
  const trusted = (layout?.regions ?? [])
    .filter((/** @type {any} */ each) => each.trusted)
    .map((/** @type {any} */ each) => each.region);
  /** @type {Area[]} */
  let strips = trusted.map(strip).filter(Boolean);
  if (byAxis.size > 0 && strips.length === 0)
    strips = [{ kind: "M-mode", box: stripBox(layout), mmPerRow: mm ?? layout?.scale?.mm_per_row_px ?? null }];
  strips = strips.map((each) => asMarked(each, byAxis, mm));
  const pictures = trusted.filter((/** @type {any} */ each) => each.spatial_format === TWO_D);
  return [...strips, ...pictureAreas(pictures, layout?.scale, mm)];
}

/** The area that holds all points; UNKNOWN where they lie in none or in several. @param {number[][]} points @param {Area[]} areas */
export function areaAt(points, areas) {
  const found = new Set(points.map((point) => areas.find((each) => holds(each, point)) ?? UNKNOWN));
  return found.size === 1 ? /** @type {Area} */ ([...found][0]) : UNKNOWN;
}

/** @param {number[]} a @param {number[]} b */
const minus = (a, b) => a.map((v, n) => v - b[n]);

/** @param {any} region @returns {Area | null} */
function strip(region) {
  const { box, delta_x, delta_y } = region;
  const msPerCol = delta_x ? Math.abs(delta_x) * 1000 : null; // seconds in the standard
  if (region.spatial_format === M_MODE && delta_y)
    return { kind: "M-mode", box, mmPerRow: Math.abs(delta_y) * 10, msPerCol }; // centimetres in the standard
  if (region.spatial_format !== SPECTRAL || region.unit_y !== CM_PER_S || !msPerCol || !delta_y) return null;
  const reference = region.reference_row_px ?? null;
  // The reference pixel counts from the region's own corner and has the reference value (PS3.3 C.8.5.5.1.9).
  const zeroRow = reference === null ? null : box.row0 + reference - (region.reference_value_y ?? 0) / delta_y;
  // Files give the step with either sign; above the baseline counts as positive here, as it stands on the screen.
  return { kind: "spectrum", box, msPerCol, cmsPerRow: Math.abs(delta_y), zeroRow };
}

/** @param {MarkedAxis} marked @param {number} place 0: rows, 1: columns */
const perPixel = (marked, place) => marked.amount / Math.abs(marked.end[place] - marked.start[place]);

/** A strip with what a person marked in place of what the file says. @param {Area} area @param {Map<string, MarkedAxis>} byAxis @param {number | null} mm @returns {Area} */
function asMarked(area, byAxis, mm) {
  const [time, velocity, baseline] = ["time", "velocity", "baseline"].map((axis) => byAxis.get(axis));
  const next = { ...area };
  if (time) next.msPerCol = perPixel(time, 1);
  if (velocity) Object.assign(next, { kind: "spectrum", mmPerRow: null, cmsPerRow: perPixel(velocity, 0) });
  if (baseline) next.zeroRow = baseline.start[0];
  if (next.kind === "M-mode" && mm !== null) next.mmPerRow = mm;
  return next;
}

/** Where a strip lies that no region tells of: below the picture; null: the whole screen. @param {any} layout @returns {Box | null} */
function stripBox(layout) {
  if (layout?.picture?.kind !== "sector") return null;
  const row0 = Math.floor(layout.picture.apex_row_px + layout.picture.far_px) + 1;
  if (!(row0 > 0 && row0 <= (1 - LEAST_STRIP) * layout.rows)) return null;
  return { row0, col0: 0, row1: layout.rows, col1: layout.cols };
}

/** @param {any[]} regions @param {any} scale @param {number | null} mm @returns {Area[]} */
function pictureAreas(regions, scale, mm) {
  if (mm !== null) return [{ kind: "picture", mmPerRow: mm, mmPerCol: mm }];
  if (!scale) return [];
  /** @type {Area} */
  const scaled = { kind: "picture", mmPerRow: scale.mm_per_row_px, mmPerCol: scale.mm_per_col_px };
  if (regions.length === 0) return [scaled];
  if (regions.length === 1) return [{ ...scaled, box: regions[0].box }];
  return regions
    .filter((each) => each.delta_x && each.delta_y)
    .map(({ box, delta_x, delta_y }) => ({
      kind: "picture",
      box,
      mmPerRow: Math.abs(delta_y) * 10,
      mmPerCol: Math.abs(delta_x) * 10,
    }));
}
