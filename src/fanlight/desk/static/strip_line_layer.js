// The engine's lines within the layer of marks: a place that is taken hold of is a new mark from its first move on.
import { html, useLayoutEffect, useRef } from "./html.js";
import { dragPoint, nudgePoint, pressedPoint } from "./mark_points.js";
import { markTool, state, told } from "./model.js";
import { CourseShapes, labelsOf, PlaceShape } from "./strip_line_shapes.js";
import { chosenPlace, linesOn, markFrom, nameOfPlace, ownMarks } from "./strip_lines.js";

/**
 * @typedef {import("./strip_lines.js").Place} Place
 * @param {{clip: any, frame: number, laid: import("./view.js").Laid, width: number, moved: import("./mark_points.js").MovedSignal, onPicture: (point: number[]) => number[]}} props
 */
export function StripLineLayer({ clip, frame, laid, width, moved, onPicture }) {
  const wants = useRef(""); // the handle of a new mark that shall have the keyboard
  useLayoutEffect(() => {
    if (!wants.current || !focusHandle(wants.current)) return;
    wants.current = "";
  });
  const lines = linesOn(clip.key, frame);
  if (!lines) return null;
  const own = ownMarks(clip.key, lines, state.value.marks);
  const onItsWay = moved.value?.of.from ?? "";
  const labels = labelsOf(laid, lines.places, width);
  const grab = (/** @type {Place} */ place, /** @type {PointerEvent} */ event) => {
    const n = pressedPoint(event, place.kind, place.points, laid);
    const mark = markFrom(clip.key, frame, place);
    dragPoint(event, mark, n, laid, upright(place, n, onPicture), moved);
  };
  const press = (/** @type {Place} */ place, /** @type {number} */ n, /** @type {KeyboardEvent} */ event) => {
    if (event.key === "Delete") {
      event.preventDefault();
      event.stopPropagation();
      told.value = "What the engine read stays; moved, it is yours and counts before it.";
      return;
    }
    const mark = markFrom(clip.key, frame, place);
    if (event.key.startsWith("Arrow")) wants.current = `${mark.mark} ${n}`;
    nudgePoint(event, mark, n, upright(place, n, onPicture), moved);
  };
  return html`<g class="strip-lines">
    <${CourseShapes} laid=${laid} courses=${lines.courses} />
    ${inReach(lines.places).map((k) => {
      const place = lines.places[k];
      const name = nameOfPlace(place);
      return html`<${PlaceShape} key=${name} laid=${laid} place=${place} label=${labels[k]} isOwn=${own.has(name) || onItsWay === name} isChosen=${chosenPlace.value === name} canGrab=${markTool.value === ""}
        onGrab=${(/** @type {PointerEvent} */ event) => grab(place, event)}
        onPress=${(/** @type {number} */ n, /** @type {KeyboardEvent} */ event) => press(place, n, event)} />`;
    })}
  </g>`;
}

const ON_TOP = ["trace", "line", "point"];

/** Places in the order in which they are drawn: where points lie on one another the pointer takes the chosen one, else a peak. @param {Place[]} places */
function inReach(places) {
  const height = (/** @type {number} */ k) =>
    chosenPlace.value === nameOfPlace(places[k]) ? ON_TOP.length : ON_TOP.indexOf(places[k].kind);
  return places.map((_, k) => k).sort((one, other) => height(one) - height(other));
}

/** Put the keyboard on a point of a mark or place. @param {string} name @returns {boolean} whether it is there */
export function focusHandle(name) {
  const found = /** @type {SVGElement | null} */ (document.querySelector(`[data-handle="${CSS.escape(name)}"]`));
  found?.focus({ preventScroll: true });
  return found !== null;
}

/** An end of a pair stays at its moment: the distance is one of a single column. @param {Place} place @param {number} n @param {(point: number[]) => number[]} onPicture */
function upright({ kind, points }, n, onPicture) {
  const isPair = kind === "line" && points[0][1] === points[1][1];
  return (/** @type {number[]} */ point) => onPicture(isPair ? [point[0], points[n][1]] : point);
}
