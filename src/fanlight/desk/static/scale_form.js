// The way to a scale where a clip has none: two points of an axis and what lies between them.
import { focusOnce } from "./focus.js";
import { html, useEffect, useSignal } from "./html.js";
import { markTool, opened, say, told } from "./model.js";
import { holdsFor, scaleFault } from "./scale_fault.js";
import { markedOn } from "./scales.js";

/** Two points of a scale that wait for what lies between them, and the clip on which they were set. */
export const pendingScale = {
  clip: "",
  tool: "scale",
  points: /** @type {number[][]} */ ([]),
  frame: 0,
  holds: "",
  amount: 0,
};

/** @typedef {{words: string, asks: string, unit: string}} ScaleTool */
/** @type {Record<string, ScaleTool>} by the name of the tool */
export const SCALE_TOOLS = {
  scale: { words: "depth scale", asks: "these two points lie apart, in cm", unit: "cm" },
  time: { words: "time scale", asks: "between these two points lie, in ms", unit: "ms" },
  velocity: { words: "velocity scale", asks: "between these two points lie, in cm/s", unit: "cm/s" },
  baseline: { words: "baseline", asks: "", unit: "" },
};

/** What the points of a scale say once they are set. @param {string} clip @param {any} layout @param {string} tool @param {number[][]} points @param {number} frame @returns {boolean} whether they need not be kept any more */
export function scalePoints(clip, layout, tool, points, frame) {
  const wrong = scaleFault(tool, points, layout, markedOn(clip));
  if (wrong) {
    told.value = wrong;
    return true;
  }
  Object.assign(pendingScale, { clip, tool, points, frame, holds: holdsFor(tool, layout), amount: 0 });
  if (tool !== "baseline") opened.value = "scale";
  else if (!say("set strip scale", { clip, frame, marked: axisOf("baseline", [points[0], points[0]], 0) }, clip))
    return false;
  else {
    markTool.value = "point";
    told.value = pendingScale.holds || "The baseline is set.";
  }
  return true;
}

/** @param {string} axis @param {number[][]} points @param {number} amount */
const axisOf = (axis, [start, end], amount) => ({ axis, start, end, amount });

/** Say the scale whose amount was typed, once somebody gave a name to say it by. */
export function sayScale() {
  const { clip, tool, points, frame, holds, amount } = pendingScale;
  if (!amount) return;
  const [start, end] = points;
  const isSaid =
    tool === "scale"
      ? say("set scale", { clip, frame, distance: { start, end, distance_mm: 10 * amount } }, clip)
      : say("set strip scale", { clip, frame, marked: axisOf(tool, points, amount) }, clip);
  if (!isSaid) return;
  pendingScale.amount = 0;
  opened.value = "";
  markTool.value = "line";
  if (holds) told.value = holds;
}

/** @param {{clip: any}} props */
export function ScaleForm({ clip }) {
  const typed = useSignal("");
  const { asks, unit } = SCALE_TOOLS[pendingScale.tool];
  const isElsewhere = pendingScale.clip !== clip.key; // the points lie on another clip than the one that shows
  useEffect(() => {
    if (isElsewhere) opened.value = "";
  }, [isElsewhere]);
  if (isElsewhere) return null;
  const submit = (/** @type {Event} */ event) => {
    event.preventDefault();
    const amount = Number(typed.value.replace(",", "."));
    if (!(amount > 0)) told.value = `What lies between the points must be a number above 0, in ${unit}.`;
    else {
      pendingScale.amount = amount;
      sayScale();
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
