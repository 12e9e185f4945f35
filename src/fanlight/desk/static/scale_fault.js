// Why points of a scale tell nothing, and what they hold for when they do. Pure.
import { areasOf, pictureBox, placeOf } from "./areas.js";

/** @param {import("./areas.js").Area} each */
const isStrip = (each) => each.kind === "M-mode" || each.kind === "spectrum";

/**
 * Why the points of a scale tell nothing where they lie, in words; "" when they do.
 * @param {string} tool "scale", "time", "velocity" or "baseline" @param {number[][]} points
 * @param {any} layout @param {import("./areas.js").Marked} marked what was marked before
 */
export function scaleFault(tool, points, layout, marked) {
  const [start, end] = [points[0], points[points.length - 1]];
  const [down, across] = [0, 1].map((n) => Math.abs(end[n] - start[n]));
  if (tool === "scale") return apart(Math.hypot(down, across), "") || depthFault(start, end, layout, marked);
  if (tool === "time" && apart(across, "")) return apart(across, " from left to right");
  if (tool === "velocity" && apart(down, "")) return apart(down, " from top to bottom");
  const axis = /** @type {import("./areas.js").MarkedAxis} */ ({ axis: tool, start, end, amount: 1 });
  const axes = [...marked.axes.filter((each) => each.axis !== tool), axis];
  if (areasOf(layout, { depth: marked.depth, axes }).some(isStrip)) return "";
  const others = marked.axes.length > 0 ? ", on the same side as what was marked before" : "";
  return `These points lie on or across the picture: set them on the strip beside it${others}.`;
}

/** @param {number} px @param {string} along */
const apart = (px, along) =>
  px >= 2 ? "" : `The two points must lie at least 2 pixels apart${along}: set them again.`;

/** @param {number[]} start @param {number[]} end @param {any} layout @param {import("./areas.js").Marked} marked */
function depthFault(start, end, layout, marked) {
  const areas = areasOf(layout, { depth: null, axes: marked.axes });
  const place = placeOf(areas, start);
  if (place !== placeOf(areas, end)) return "The two points lie in two parts of the screen: set both in one.";
  const kind = areas[place]?.kind;
  if (kind === "spectrum") return "A spectrum has no depth: set the points on the picture or beside its depth scale.";
  if (kind === "M-mode") return apart(Math.abs(end[0] - start[0]), " from top to bottom");
  return "";
}

/** What a scale holds for, where that is not plain to see. @param {string} tool @param {any} layout */
export function holdsFor(tool, layout) {
  const trusted = (layout?.regions ?? []).filter((/** @type {any} */ each) => each.trusted);
  if (tool === "scale" || trusted.length > 0 || pictureBox(layout, [])) return "";
  return "No picture was found on this screen: what you marked holds for all of it.";
}
