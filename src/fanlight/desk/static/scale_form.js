// The way to a scale where a clip has none: two points of an axis and what lies between them.
import { focusOnce } from "./focus.js";
import { html, useSignal } from "./html.js";
import { markTool, opened, say, told } from "./model.js";

/** Two points of a scale that wait for what lies between them. */
export const pendingScale = { tool: "scale", points: /** @type {number[][]} */ ([]), frame: 0 };

/** @typedef {{words: string, asks: string, unit: string}} ScaleTool */
/** @type {Record<string, ScaleTool>} by the name of the tool */
export const SCALE_TOOLS = {
  scale: { words: "depth scale", asks: "these two points lie apart, in cm", unit: "cm" },
  time: { words: "time scale", asks: "between these two points lie, in ms", unit: "ms" },
  velocity: { words: "velocity scale", asks: "between these two points lie, in cm/s", unit: "cm/s" },
  baseline: { words: "baseline", asks: "", unit: "" },
};

/** What the points of a scale say once they are set. @param {string} clip @param {string} tool @param {number[][]} points @param {number} frame */
export function scalePoints(clip, tool, points, frame) {
  Object.assign(pendingScale, { tool, points, frame });
  if (tool !== "baseline") opened.value = "scale";
  else if (say("set strip scale", { clip, frame, marked: axisOf("baseline", [points[0], points[0]], 0) }, clip))
    markTool.value = "point";
}

/** @param {string} axis @param {number[][]} points @param {number} amount */
const axisOf = (axis, [start, end], amount) => ({ axis, start, end, amount });

/** @param {number} amount in the unit of the tool @param {string} clip */
function send(amount, clip) {
  const { tool, points, frame } = pendingScale;
  if (tool === "scale") {
    const distance = { start: points[0], end: points[1], distance_mm: 10 * amount };
    return say("set scale", { clip, frame, distance }, clip);
  }
  return say("set strip scale", { clip, frame, marked: axisOf(tool, points, amount) }, clip);
}

/** Why two points tell nothing of an axis, "" when they do. */
function fault() {
  const { tool, points } = pendingScale;
  const [down, across] = [0, 1].map((n) => Math.abs(points[1][n] - points[0][n]));
  const apart = { scale: Math.hypot(down, across), time: across, velocity: down }[tool] ?? 0;
  const along = { time: " from left to right", velocity: " from top to bottom" }[tool] ?? "";
  return apart >= 2 ? "" : `The two points must lie at least 2 pixels apart${along}: set them again.`;
}

/** @param {{clip: any}} props */
export function ScaleForm({ clip }) {
  const typed = useSignal("");
  const { asks, unit } = SCALE_TOOLS[pendingScale.tool];
  const submit = (/** @type {Event} */ event) => {
    event.preventDefault();
    const amount = Number(typed.value.replace(",", "."));
    const wrong = amount > 0 ? fault() : `What lies between the points must be a number above 0, in ${unit}.`;
    if (wrong) told.value = wrong;
    else if (send(amount, clip.key)) {
      opened.value = "";
      markTool.value = "line";
    }
  };
  return html`<form class="scale-form" onSubmit=${submit}>
    <label class="field">${asks}
      <input inputmode="decimal" required value=${typed.value} ref=${focusOnce} onInput=${(
        /** @type {any} */ event,
      ) => {
        typed.value = event.target.value;
      }} />
    </label>
    <button type="submit">set the scale</button>
    <button type="button" onClick=${() => {
      opened.value = "";
    }}>leave</button>
  </form>`;
}
