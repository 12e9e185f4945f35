// Lines that the engine read off a strip, as they are drawn: thin, so that the border under them is seen; what was led
// across is broken, what does not count is dashed. A place can be taken hold of: it is then the mentor's.
import { html } from "./html.js";
import { path } from "./overlay.js";
import { nameOfPlace, placeWords } from "./strip_lines.js";
import { toScreen } from "./view.js";

/**
 * @typedef {import("./view.js").Laid} Laid
 * @typedef {import("./strip_lines.js").Place} Place
 * @typedef {{x: number, y: number, anchor: string, words: string, isQuiet: boolean}} Label
 */

const TICK_PX = 5; // half of a bracket's ends
const RING_PX = 5;
const LETTER_PX = 6.3; // about as wide as a letter of a label is
const LINE_PX = 15;
const GAP_PX = 8;
const LEAST_PAIR_PX = 36; // on the screen: words beside a shorter pair would hide what it measures

/** @param {Laid} laid @param {Place} place */
function shapeOf(laid, { kind, points }) {
  const at = points.map((each) => toScreen(laid, each));
  if (kind === "point") {
    const [[x, y]] = at;
    return `M${x - RING_PX} ${y}a${RING_PX} ${RING_PX} 0 1 0 ${2 * RING_PX} 0a${RING_PX} ${RING_PX} 0 1 0 ${-2 * RING_PX} 0`;
  }
  const [isUpright, isLevel] = kind === "line" ? [1, 0].map((n) => points[0][n] === points[1][n]) : [false, false];
  const ends = at.map(([x, y]) => {
    if (isUpright) return `M${x - TICK_PX} ${y}h${2 * TICK_PX}`;
    return isLevel ? `M${x} ${y - TICK_PX}v${2 * TICK_PX}` : "";
  });
  return `${path(laid, points)}${ends.join("")}`;
}

/** Where the words of a place stand: beside the middle of a bracket, beside a peak away from its wave. @param {Laid} laid @param {Place} place @param {number} width @param {string} words @param {boolean} isLeft */
function labelAt(laid, place, width, words, isLeft) {
  const at = place.points.map((each) => toScreen(laid, each));
  const x = at.reduce((sum, each) => sum + each[0], 0) / at.length;
  const y = at.reduce((sum, each) => sum + each[1], 0) / at.length;
  const long = words.length * LETTER_PX;
  const fits = isLeft ? x - GAP_PX - long > 0 : x + GAP_PX + long < width;
  const toLeft = isLeft === fits;
  const isLevel = place.kind === "line" && place.points[0][0] === place.points[1][0]; // words stand above a level line
  return { x: toLeft ? x - GAP_PX : x + GAP_PX, y: isLevel ? y - 5 : y + 4, anchor: toLeft ? "end" : "start", long };
}

/**
 * The words of places, each where none stands yet; one without room is quiet and shows under the pointer or with the
 * keyboard. @param {Laid} laid @param {Place[]} places @param {number} width @returns {Label[]}
 */
export function labelsOf(laid, places, width) {
  /** @type {{left: number, right: number, y: number}[]} */
  const taken = [];
  const isShort = (/** @type {Place} */ { kind, points }) =>
    kind === "line" &&
    points[0][1] === points[1][1] &&
    Math.abs(points[1][0] - points[0][0]) * laid.scale < LEAST_PAIR_PX;
  return places.map((place) => {
    const words = placeWords(place);
    for (const isLeft of [false, true]) {
      const { x, y, anchor, long } = labelAt(laid, place, width, words, isLeft);
      const left = anchor === "end" ? x - long : x;
      const isFree = taken.every(
        (each) => Math.abs(each.y - y) >= LINE_PX || each.right < left || each.left > left + long,
      );
      if (place.reason || place.kind === "trace" || isShort(place) || !isFree) continue;
      taken.push({ left, right: left + long, y });
      return { x, y, anchor, words, isQuiet: false };
    }
    const { x, y, anchor } = labelAt(laid, place, width, words, false);
    return { x, y, anchor, words, isQuiet: true };
  });
}

/** @param {{laid: Laid, courses: import("./strip_lines.js").Course[]}} props */
export function CourseShapes({ laid, courses }) {
  return html`<g class="strip-courses">
    ${courses.map((each, n) => {
      const d = path(laid, each.points);
      return html`<g key=${n} class=${each.is_seen ? "" : "unseen"}><path class="under" d=${d} /><path class="over" d=${d} /></g>`;
    })}
  </g>`;
}

/**
 * @param {{laid: Laid, place: Place, label: Label, isOwn: boolean, isChosen: boolean, canGrab: boolean, onGrab: (event: PointerEvent) => void, onPress: (n: number, event: KeyboardEvent) => void}} props
 * `isOwn`: the mentor's mark stands in its stead
 */
export function PlaceShape({ laid, place, label, isOwn, isChosen, canGrab, onGrab, onPress }) {
  const look = [
    isOwn ? "own" : "",
    place.reason ? "left-out" : "",
    isChosen ? "chosen" : "",
    label.isQuiet ? "quiet" : "",
  ];
  const words = placeWords(place);
  const d = shapeOf(laid, place);
  return html`<g class=${`place-shape ${place.kind} ${look.filter(Boolean).join(" ")}`}>
    <path class="under" d=${d} /><path class="over" d=${d} />
    ${
      isOwn || !canGrab
        ? null
        : place.points.map((point, n) => {
            const [cx, cy] = toScreen(laid, point);
            const name = `${words}, beat ${place.beat}, point ${n + 1} of ${place.points.length}, read by the engine. Arrow keys move it and make it yours.`;
            return html`<g key=${n} class="handle" data-handle=${`${nameOfPlace(place)} ${n}`} tabindex=${isChosen ? "0" : "-1"} role="button" aria-label=${name}
              onPointerDown=${onGrab}
              onKeyDown=${(/** @type {KeyboardEvent} */ event) => onPress(n, event)}>
              <circle class="reach" cx=${cx} cy=${cy} r="12" />
            </g>`;
          })
    }
    ${isOwn ? null : html`<text x=${label.x} y=${label.y} text-anchor=${label.anchor}>${label.words}</text>`}
  </g>`;
}
