// What a mark says: lengths and areas on pictures, times, velocities, slopes and gradients on strips. Pure.
// The same rules as measure/read_out.py; tests/measure/read_out_cases.json holds both together.
import { areaAt } from "./areas.js";
import { angleDeg, area, distance, pathLength } from "./measures.js";

/**
 * @typedef {import("./areas.js").Area} Area
 * @typedef {{name: string, value: number, unit: string}} ReadValue
 * @typedef {[string, number, string][]} Values
 */

/** @param {string} kind @param {number[][]} points @param {Area[]} areas @returns {{area: string, values: ReadValue[]}} */
export function readMark(kind, points, areas) {
  const where = areaAt(points, areas);
  const rule = { spectrum: onSpectrum, "M-mode": onMMode }[/** @type {"spectrum"} */ (where.kind)] ?? onPicture;
  // Where muscle moves and no blood flows, 4v² means nothing.
  const found = rule(kind, points, where).filter(([, , unit]) => !(where.isTissue && unit === "mmHg"));
  return { area: where.kind, values: found.map(([name, value, unit]) => ({ name, value, unit })) };
}

/** @param {string} kind @param {number[][]} points @param {Area} where @returns {Values} */
function onPicture(kind, points, where) {
  const isScaled = where.mmPerRow != null && where.mmPerCol != null;
  const size = isScaled ? { down: Number(where.mmPerRow), across: Number(where.mmPerCol) } : { down: 1, across: 1 };
  const unit = isScaled ? "mm" : "px";
  if (kind === "line") return [["length", distance(points[0], points[1], size), unit]];
  if (kind === "angle") return [["angle", angleDeg(points, size), "°"]];
  if (kind === "trace")
    return [
      ["length", pathLength(points, size), unit],
      ["area", area(points, size), `${unit}²`],
    ];
  return [];
}

/** @param {number[]} values */
const span = (values) => Math.max(...values) - Math.min(...values);
/** The one furthest from 0, the first of equals. @param {number[]} values */
const fastestOf = (values) => values.reduce((best, v) => (Math.abs(v) > Math.abs(best) ? v : best));
/** 4·v², v in m/s. @param {number} cms */
const mmHg = (cms) => 4 * (cms / 100) ** 2;

/** @param {string} kind @param {number[][]} points @param {Area} where @returns {Values} */
function onMMode(kind, points, { mmPerRow, msPerCol }) {
  if (kind !== "line" && kind !== "trace") return [];
  const [rows, cols] = [0, 1].map((n) => points.map((each) => each[n]));
  /** @type {Values} */
  const values = [];
  const time = msPerCol == null ? null : span(cols) * msPerCol;
  if (mmPerRow != null) values.push(["depth", span(rows) * mmPerRow, "mm"]);
  if (time !== null) values.push(["time", time, "ms"]);
  if (kind === "line" && time) {
    // Towards the probe, up the screen, counts as positive.
    const rises = (rows[0] - rows[1]) * (cols[1] > cols[0] ? 1 : -1);
    if (mmPerRow != null) values.push(["slope", ((rises * mmPerRow) / time) * 1000, "mm/s"]);
    values.push(["rate", 60000 / time, "/min"]);
  }
  return values;
}

/** @param {string} kind @param {number[][]} points @param {Area} where @returns {Values} */
function onSpectrum(kind, points, where) {
  if (kind === "trace") return traced(points, where);
  const { cmsPerRow: step, zeroRow: zero, msPerCol } = where;
  /** @type {Values} */
  const values = [];
  if ((kind === "point" || kind === "line") && step != null && zero != null) {
    const fastest = fastestOf(points.map(([row]) => (zero - row) * step));
    values.push(["velocity", fastest, "cm/s"], ["gradient", mmHg(fastest), "mmHg"]);
  }
  if (kind !== "line") return values;
  const [[row0, col0], [row1, col1]] = points[0][1] <= points[1][1] ? points : [points[1], points[0]];
  if (step != null) values.push(["change", (row0 - row1) * step, "cm/s"]);
  if (msPerCol == null) return values;
  const time = (col1 - col0) * msPerCol;
  values.push(["time", time, "ms"]);
  if (time > 0) {
    if (step != null) values.push(["slope", (((row0 - row1) * step) / time) * 1000, "cm/s²"]);
    values.push(["rate", 60000 / time, "/min"]);
  }
  return values;
}

/** @param {number[][]} points @param {Area} where @returns {Values} */
function traced(points, { cmsPerRow: step, zeroRow: zero, msPerCol }) {
  const time = msPerCol == null ? null : span(points.map((each) => each[1])) * msPerCol;
  /** @type {Values} */
  const values = [];
  if (step != null && zero != null) {
    const speeds = points.map(([row]) => (zero - row) * step);
    const fastest = fastestOf(speeds);
    values.push(["peak velocity", fastest, "cm/s"], ["peak gradient", mmHg(fastest), "mmHg"]);
    if (msPerCol != null && time) {
      let [travelled, squares] = [0, 0];
      for (let n = 1; n < points.length; n++) {
        const [u, v] = [speeds[n - 1], speeds[n]];
        const seconds = ((points[n][1] - points[n - 1][1]) * msPerCol) / 1000;
        travelled += ((u + v) / 2) * seconds;
        squares += ((u * u + u * v + v * v) / 3) * seconds; // of a straight piece, the integral of v²
      }
      values.push(["velocity-time integral", Math.abs(travelled), "cm"]);
      values.push(["mean velocity", Math.sign(fastest) * Math.abs(travelled / (time / 1000)), "cm/s"]);
      values.push(["mean gradient", (4 * Math.abs(squares)) / 1e4 / (time / 1000), "mmHg"]);
    }
  }
  if (time !== null) values.push(["time", time, "ms"]);
  return values;
}

/** @type {Record<string, string>} how values are called beside a mark; what has no word here goes by its unit alone */
const SHORT = {
  "velocity-time integral": "VTI",
  "peak velocity": "peak",
  "peak gradient": "4v²",
  "mean velocity": "mean",
  "mean gradient": "mean 4v²",
  change: "Δ",
  gradient: "4v²",
  rate: "if one beat",
};

/** One value in words. @param {ReadValue} read */
export function said({ name, value, unit }) {
  if (unit === "mm²") return `${(value / 100).toFixed(2)} cm²`;
  if (unit === "°") return `${value.toFixed(0)}°`;
  const size = Math.abs(value);
  const number = unit === "/min" || unit === "ms" || size >= 100 ? value.toFixed(0) : value.toFixed(1);
  return `${SHORT[name] ? `${SHORT[name]} ` : ""}${number} ${unit}`.replace(" /", "/").replace("-", "−");
}

const NOTHING = 0.05; // what rounds to 0.0 is not said beside other values
const FLAT = 3; // a line so many times as wide as high is meant for its time

/** What a mark says, in one line, what was looked for first. @param {string} kind @param {number[][]} points @param {Area[]} areas */
export function readOut(kind, points, areas) {
  if (points.length < { point: 1, line: 2, scale: 2, angle: 3, trace: 2 }[/** @type {"line"} */ (kind)]) return "";
  const { area: where, values } = readMark(kind === "scale" ? "line" : kind, points, areas);
  const told = values.filter((each) => Math.abs(each.value) >= NOTHING);
  const isFlat =
    kind === "line" &&
    (where === "spectrum" || where === "M-mode") &&
    Math.abs(points[1][1] - points[0][1]) > FLAT * Math.abs(points[1][0] - points[0][0]);
  const isTime = (/** @type {ReadValue} */ each) => each.name === "time" || each.name === "rate";
  const order = isFlat && told.some(isTime) ? told.filter(isTime) : told;
  return (order.length > 0 ? order : values.slice(0, 1)).map(said).join(" · ");
}
