// Which part of the screen is scaled how: pictures in mm, M-modes in ms and mm, spectra in ms and cm/s. Pure.
// The same rules as measure/areas.py; tests/measure/read_out_cases.json holds both to them.

/**
 * @typedef {"picture" | "M-mode" | "spectrum" | "not calibrated here"} AreaKind
 * @typedef {{row0: number, col0: number, row1: number, col1: number}} Box
 * @typedef {{kind: AreaKind, box?: Box | null, mmPerRow?: number | null, mmPerCol?: number | null, msPerCol?: number | null, cmsPerRow?: number | null, zeroRow?: number | null, isTissue?: boolean}} Area `cmsPerRow`: what a row further up adds, below 0 on an inverted display
 * @typedef {{axis: "time" | "velocity" | "baseline", start: number[], end: number[], amount: number}} MarkedAxis
 * @typedef {{depth: {start: number[], end: number[], distance_mm: number} | null, axes: MarkedAxis[], holdsRead?: boolean}} Marked what a person marked on a clip; whether points that the reading knows of as marked still hold
 */

/** @type {Area} */
export const UNKNOWN = { kind: "not calibrated here" };
const SLACK_PX = 2; // a point set at the rim of a part by hand still belongs to it
const LEAST_STRIP = 0.1; // of the screen: less room beside the picture holds no strip
const LEAST_PX = 2; // rows of a depth marked on a strip: closer, the error of a hand is as large as the depth
const BY_HAND = "two points marked by the user"; // a source of a scale, in words of the engine
// Numbers of PS3.3 C.8.5.5.1: spatial formats, and the unit cm/s.
const [TWO_D, M_MODE, SPECTRAL] = [1, 2, 3];
const CM_PER_S = 7;

/** @param {Area} area @param {number[]} point */
function holds({ box }, [row, col]) {
  if (!box) return true;
  const isDown = box.row0 - SLACK_PX <= row && row <= box.row1 - 1 + SLACK_PX;
  return isDown && box.col0 - SLACK_PX <= col && col <= box.col1 - 1 + SLACK_PX;
}

/**
 * The scaled parts of a screen; of two that hold a point the first counts. A marked depth holds for the part in which
 * both its points lie, or for all that nothing else calibrates. Where the file tells of no strip, it lies on that side
 * of the picture on which everything was marked; on a screen without picture it is all of it.
 * @param {any} layout @param {Marked} marked @returns {Area[]}
 */
export function areasOf(layout, { depth, axes, holdsRead = false }) {
  if (layout?.scale?.source === BY_HAND && !holdsRead) return areasOf({ ...layout, scale: null }, { depth, axes });
  /** @type {Map<string, MarkedAxis>} */
  const byAxis = new Map(axes.map((each) => [each.axis, each]));
  const trusted = (layout?.regions ?? [])
    .filter((/** @type {any} */ each) => each.trusted)
    .map((/** @type {any} */ each) => each.region);
  const pictures = trusted.filter((/** @type {any} */ each) => each.spatial_format === TWO_D);
  /** @type {Area[]} */
  let strips = trusted.map(strip).filter(Boolean);
  if (strips.length > 0) {
    const held = strips.filter((each) => byAxis.size > 0 && holdsAll(each, byAxis));
    strips = strips.map((each) => (held.length === 0 || held.includes(each) ? asMarked(each, byAxis) : each));
  } else if (byAxis.size > 0) strips = untoldStrip(layout, pictures, byAxis).map((each) => asMarked(each, byAxis));
  const listed = [...strips, ...pictureAreas(pictures, layout?.scale, depth !== null)];
  return depth ? withDepth(listed, layout, depth) : listed;
}

/** Which of the areas holds a point, -1 for none. @param {Area[]} areas @param {number[]} point */
export const placeOf = (areas, point) => areas.findIndex((each) => holds(each, point));

/** The area that holds all points; UNKNOWN where they lie in none or in several. @param {number[][]} points @param {Area[]} areas */
export function areaAt(points, areas) {
  const found = new Set(points.map((point) => areas.find((each) => holds(each, point)) ?? UNKNOWN));
  return found.size === 1 ? /** @type {Area} */ ([...found][0]) : UNKNOWN;
}

/** How well each end of a shape is placed, one standard deviation. @param {number[][]} points @param {number} spread_px @param {Area[]} areas */
export function placedWords(points, spread_px, areas) {
  const { mmPerRow } = areaAt(points, areas);
  const off = mmPerRow ? `± ${(spread_px * mmPerRow).toFixed(1)} mm` : `± ${spread_px.toFixed(0)} px`;
  return points.length > 1 ? `each end ${off}` : off;
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
  // The step is what a row further down adds (PS3.3 C.8.5.5): above 0 the display is inverted, up is away.
  return { kind: "spectrum", box, msPerCol, cmsPerRow: -delta_y, zeroRow };
}

/** @param {MarkedAxis} marked @param {number} place 0: rows, 1: columns */
const perPixel = (marked, place) => marked.amount / Math.abs(marked.end[place] - marked.start[place]);

/** @param {Area[]} areas @param {any} layout @param {NonNullable<Marked["depth"]>} depth @returns {Area[]} */
function withDepth(areas, layout, depth) {
  const [place, other] = [placeOf(areas, depth.start), placeOf(areas, depth.end)];
  if (place !== other) return areas;
  if (place >= 0) return areas.map((each, n) => (n === place ? scaled(each, depth) : each));
  return [...areas, scaled({ kind: "picture", mmPerRow: 1, mmPerCol: layout?.picture?.col_stretch ?? 1 }, depth)];
}

/** An area with the millimetres of two points in it; the shape of its pixels stays the file's. @param {Area} area @param {NonNullable<Marked["depth"]>} depth @returns {Area} */
function scaled(area, { start, end, distance_mm }) {
  const [down, across] = minus(end, start).map(Math.abs);
  if (area.kind === "M-mode") return down < LEAST_PX ? area : { ...area, mmPerRow: distance_mm / down }; // columns are time
  if (area.kind !== "picture" || !area.mmPerRow || !area.mmPerCol) return area;
  const stretch = area.mmPerCol / area.mmPerRow;
  const mm = distance_mm / Math.hypot(down, across * stretch);
  return { ...area, mmPerRow: mm, mmPerCol: mm * stretch };
}

/** A strip with what a person marked in place of what the file says. @param {Area} area @param {Map<string, MarkedAxis>} byAxis @returns {Area} */
function asMarked(area, byAxis) {
  const [time, velocity, baseline] = ["time", "velocity", "baseline"].map((axis) => byAxis.get(axis));
  const next = { ...area };
  if (time) next.msPerCol = perPixel(time, 1);
  // A hand marks the size of a row; which way is towards the probe stays as the file says, else it is up.
  const sense = (area.cmsPerRow ?? 1) < 0 ? -1 : 1;
  if (velocity) Object.assign(next, { kind: "spectrum", mmPerRow: null, cmsPerRow: sense * perPixel(velocity, 0) });
  if (baseline) next.zeroRow = baseline.start[0];
  return next;
}

/** @param {Area} area @param {Map<string, MarkedAxis>} byAxis */
const holdsAll = (area, byAxis) =>
  [...byAxis.values()].every((each) => holds(area, each.start) && holds(area, each.end));

/** The strip that no region tells of, and that a person marked; none where the marks lie on the picture. @param {any} layout @param {any[]} pictures @param {Map<string, MarkedAxis>} byAxis @returns {Area[]} */
function untoldStrip(layout, pictures, byAxis) {
  const picture = pictureBox(layout, pictures);
  if (!picture) return [{ kind: "M-mode", mmPerRow: layout?.scale?.mm_per_row_px ?? null }];
  // The millimetres of the picture are not the strip's: machines draw a strip at another size.
  const beside = roomBeside(picture, layout.rows, layout.cols).map((box) => ({ kind: "M-mode", box, mmPerRow: null }));
  return /** @type {Area[]} */ (beside).filter((each) => holdsAll(each, byAxis)).slice(0, 1);
}

/** The upright box around the picture, null where none is known. @param {any} layout @param {any[]} pictures trusted regions @returns {Box | null} */
export function pictureBox(layout, pictures) {
  if (layout?.picture?.kind === "sector") return sectorBox(layout.picture);
  if (layout?.picture) return layout.picture.box;
  if (pictures.length === 0) return null;
  const ends = (/** @type {keyof Box} */ side) => pictures.map((each) => each.box[side]);
  return {
    row0: Math.min(...ends("row0")),
    col0: Math.min(...ends("col0")),
    row1: Math.max(...ends("row1")),
    col1: Math.max(...ends("col1")),
  };
}

/** @param {any} sector @returns {Box} */
function sectorBox({ apex_row_px, apex_col_px, left_deg, right_deg, near_px, far_px, col_stretch }) {
  const corners = [near_px, far_px].flatMap((radius) =>
    [left_deg, right_deg].map((deg) => {
      const angle = (deg * Math.PI) / 180;
      return [apex_row_px + radius * Math.cos(angle), apex_col_px + (radius * Math.sin(angle)) / (col_stretch ?? 1)];
    }),
  );
  const [rows, cols] = [0, 1].map((n) => corners.map((each) => each[n]));
  return {
    row0: Math.floor(Math.min(...rows)),
    col0: Math.floor(Math.min(...cols)),
    row1: Math.floor(apex_row_px + far_px) + 1,
    col1: Math.floor(Math.max(...cols)) + 1,
  };
}

/** Room for a strip below, right, left and above of the picture, where there is enough of it. @param {Box} picture @param {number} rows @param {number} cols @returns {Box[]} */
function roomBeside({ row0, col0, row1, col1 }, rows, cols) {
  const [down, right] = [(1 - LEAST_STRIP) * rows, (1 - LEAST_STRIP) * cols];
  const room = [];
  if (row1 > 0 && row1 <= down) room.push({ row0: row1, col0: 0, row1: rows, col1: cols });
  if (col1 > 0 && col1 <= right) room.push({ row0: 0, col0: col1, row1: rows, col1: cols });
  if (col0 < cols && col0 >= cols - right) room.push({ row0: 0, col0: 0, row1: rows, col1: col0 });
  if (row0 < rows && row0 >= rows - down) room.push({ row0: 0, col0: 0, row1: row0, col1: cols });
  return room;
}

/** @param {any[]} regions @param {any} scale @param {boolean} isMarked @returns {Area[]} */
function pictureAreas(regions, scale, isMarked) {
  if (!scale && !(isMarked && regions.length > 0)) return [];
  if (scale && regions.length <= 1) {
    const { mm_per_row_px: mmPerRow, mm_per_col_px: mmPerCol } = scale;
    return [{ kind: "picture", mmPerRow, mmPerCol, box: regions[0]?.box ?? null }];
  }
  // Several pictures, or a mark elsewhere that contradicts the scale: each region tells of itself.
  return regions
    .filter((each) => each.delta_x && each.delta_y)
    .map(({ box, delta_x, delta_y }) => ({
      kind: "picture",
      box,
      mmPerRow: Math.abs(delta_y) * 10,
      mmPerCol: Math.abs(delta_x) * 10,
    }));
}
