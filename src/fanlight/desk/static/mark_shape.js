// Marks as they are drawn: the mentor's own with handles, followed ones as the engine draws.
import { html } from "./html.js";
import { heldPoints } from "./mark_points.js";
import { path } from "./overlay.js";
import { readOut } from "./read_out.js";
import { toScreen } from "./view.js";

/** @typedef {import("./view.js").Laid} Laid */
const LETTER_PX = 7.5; // about as wide as a letter of the label is
const SHORT = 2; // values beside a mark; the panel says all

/** Where words stand beside the last point, inside the stage. @param {Laid} laid @param {number[][]} points @param {number} width @param {string} words */
export function beside(laid, points, width, words) {
  const [x, y] = toScreen(laid, points[points.length - 1]);
  const isRight = x + 10 + words.length * LETTER_PX < width;
  return { x: isRight ? x + 10 : x - 10, y: Math.max(y - 8, 16), anchor: isRight ? "start" : "end" };
}

/** @param {{laid: Laid, width: number, mark: any, areas: import("./areas.js").Area[], isChosen?: boolean, isQuiet?: boolean, onGrab?: (event: PointerEvent) => void, onPress?: (n: number, event: KeyboardEvent) => void}} props `isQuiet`: its words stand beside it only while it has the pointer or the keyboard */
export function MarkShape({ laid, width, mark, areas, isChosen, isQuiet, onGrab, onPress }) {
  const { kind, points } = mark;
  const d = path(laid, points);
  const said = readOut(kind, points, areas).split(" · ").slice(0, SHORT).join(" · ");
  const words = [mark.label, said].filter(Boolean).join("  ");
  const at = beside(laid, points, width, words);
  const ends = heldPoints(kind, points);
  const isInner = (/** @type {number} */ n) => kind === "trace" && n > 0 && n < points.length - 1;
  return html`<g class=${`mark-shape ${isChosen ? "chosen" : ""} ${isQuiet ? "quiet" : ""}`}>
    <path class="under" d=${d} /><path class="over" d=${d} />
    ${ends.map((/** @type {number} */ n) => {
      const [cx, cy] = toScreen(laid, points[n]);
      const plus = `M${cx - 6} ${cy}h12M${cx} ${cy - 6}v12`;
      const name = `${mark.label || kind}, point ${n + 1} of ${points.length}: ${said || "no size"}. Arrow keys move it, Delete takes the mark off.`;
      return html`<g
        key=${n}
        class=${`handle ${isInner(n) ? "inner" : ""}`}
        data-handle=${`${mark.mark ?? ""} ${n}`}
        tabindex=${onPress ? "0" : undefined}
        role=${onPress ? "button" : undefined}
        aria-label=${onPress ? name : undefined}
        onPointerDown=${(/** @type {PointerEvent} */ event) => onGrab?.(event)}
        onKeyDown=${(/** @type {KeyboardEvent} */ event) => onPress?.(n, event)}
      >
        <circle class="reach" cx=${cx} cy=${cy} r="12" />
        <path class="under" d=${plus} /><path class="over" d=${plus} />
      </g>`;
    })}
    <text x=${at.x} y=${at.y} text-anchor=${at.anchor}>${words}</text>
  </g>`;
}

/** A mark where it was followed to: dashed, in the engine's letters, without handles. @param {{laid: Laid, width: number, kind: string, points: number[][], words: string}} props */
export function TrackedShape({ laid, width, kind, points, words }) {
  const dots = kind === "trace" ? [] : points.map((each) => toScreen(laid, each));
  const d = path(laid, points);
  const at = beside(laid, points, width, words);
  return html`<g class="tracked-shape">
    <path class="under" d=${d} /><path class="over" d=${d} />
    ${dots.map(([x, y], n) => html`<circle key=${n} class="under" cx=${x} cy=${y} r="4" /><circle key=${`o${n}`} class="over" cx=${x} cy=${y} r="4" />`)}
    <text x=${at.x} y=${at.y} text-anchor=${at.anchor}>${words}</text>
  </g>`;
}

/** A mark that came with the files: drawn by a person, and not to be moved here. @param {{laid: Laid, width: number, kind: string, points: number[][], words: string}} props */
export function SentShape({ laid, width, kind, points, words }) {
  const dots = kind === "trace" ? [] : points.map((each) => toScreen(laid, each));
  const d = path(laid, points);
  const at = beside(laid, points, width, words);
  return html`<g class="sent-shape">
    <path class="under" d=${d} /><path class="over" d=${d} />
    ${dots.map(([x, y], n) => html`<path key=${n} class="over" d=${`M${x - 5} ${y - 5}h10v10h-10Z`} />`)}
    <text x=${at.x} y=${at.y} text-anchor=${at.anchor}>${words}</text>
  </g>`;
}
