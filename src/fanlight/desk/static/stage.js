// The stage: one clip at its own pixels on near-black, nothing over it but what the mentor asked for.
import { FoundLayer } from "./found_layer.js";
import { effect, html, useEffect, useLayoutEffect, useRef, useSignal } from "./html.js";
import { MarkLayer } from "./mark_layer.js";
import { EvidenceShapes } from "./overlay.js";
import { hasLines } from "./strip_lines.js";
import { fitting, greyFilter, lay, regreyed, resized } from "./view.js";

/**
 * @typedef {import("./html.js").Signal<import("./view.js").View>} ViewSignal
 * @param {{player: import("./player.js").Player, clip: any, reading: any, finding: any, view: ViewSignal, marks: boolean, marksFound?: boolean, words: string}} props `marksFound`: what was found, landmarks or lines of a strip, may be shown
 */
export function Stage({ player, clip, reading, finding, view, marks, marksFound = false, words }) {
  const frameRef = useRef(/** @type {HTMLElement | null} */ (null));
  const canvasRef = useRef(/** @type {HTMLCanvasElement | null} */ (null));
  const size = useSignal({ width: 1, height: 1, ratio: 1 });

  useLayoutEffect(() => {
    const frame = /** @type {HTMLElement} */ (frameRef.current);
    const measure = () => {
      const now = { width: frame.clientWidth, height: frame.clientHeight, ratio: devicePixelRatio || 1 };
      if (now.width !== size.value.width || now.height !== size.value.height || now.ratio !== size.value.ratio)
        size.value = now;
    };
    const seen = new ResizeObserver(measure);
    seen.observe(frame);
    measure();
    return () => seen.disconnect();
  }, []);

  useEffect(
    () =>
      effect(() => {
        void player.frame.value;
        void player.drawn.value;
        if (canvasRef.current) draw(canvasRef.current, player, view.value, size.value);
      }),
    [player],
  );

  const laid = lay(view.value, size.value, clip, size.value.ratio);
  return html`<div
    class=${`picture ${marks ? "marking" : view.value.zoom ? "panning" : ""}`}
    ref=${frameRef}
    onPointerDown=${(/** @type {PointerEvent} */ event) => grab(event, view, marks)}
    onDblClick=${(/** @type {MouseEvent} */ event) => {
      if (!marks && view.value.zoom) centre(event, view);
    }}
    onWheel=${(/** @type {WheelEvent} */ event) => turn(event, view, size.value, clip)}
    onContextMenu=${(/** @type {Event} */ event) => event.preventDefault()}
  >
    <canvas ref=${canvasRef} role="img" aria-label=${words}></canvas>
    <svg class="over-picture" width=${size.value.width} height=${size.value.height} aria-hidden="true">
      ${finding ? html`<${EvidenceShapes} laid=${laid} finding=${finding} frame=${player.frame.value} />` : null}
    </svg>
    ${marks || (marksFound && hasLines(clip.key)) ? html`<${MarkLayer} player=${player} clip=${clip} reading=${reading} laid=${laid} size=${size.value} />` : null}
    ${marksFound ? html`<${FoundLayer} player=${player} clip=${clip} laid=${laid} size=${size.value} />` : null}
    <${BrokenWord} player=${player} />
  </div>`;
}

/** Why the frame that stands is not there; of its own, so that nothing else is drawn anew with each frame. @param {{player: import("./player.js").Player}} props */
function BrokenWord({ player }) {
  const words = player.brokenWord();
  return words ? html`<p class="picture-broken">${words}</p>` : null;
}

/** @param {HTMLCanvasElement} canvas @param {import("./player.js").Player} player @param {import("./view.js").View} view @param {{width: number, height: number, ratio: number}} size */
function draw(canvas, player, view, size) {
  const [wide, high] = [Math.round(size.width * size.ratio), Math.round(size.height * size.ratio)];
  if (canvas.width !== wide || canvas.height !== high) {
    canvas.width = wide;
    canvas.height = high;
  }
  const picture = player.picture();
  const pen = canvas.getContext("2d");
  if (pen && player.brokenWord()) {
    pen.clearRect(0, 0, wide, high); // never another frame in its place
    canvas.dataset.frame = String(player.frame.value);
    player.wasDrawn();
  }
  if (!picture || !pen) return;
  const { scale, left, top } = lay(view, size, { rows: picture.height, cols: picture.width }, size.ratio);
  const device = scale * size.ratio;
  pen.clearRect(0, 0, wide, high);
  pen.imageSmoothingEnabled = device < 1;
  pen.imageSmoothingQuality = "high";
  pen.drawImage(picture, left * size.ratio, top * size.ratio, picture.width * device, picture.height * device);
  const filter = greyFilter(view);
  if (canvas.style.filter !== filter) canvas.style.filter = filter;
  canvas.dataset.frame = String(player.frame.value);
  player.wasDrawn();
}

/** Drag: left, or with marks the middle, moves an enlarged picture; right turns the window of grey. @param {PointerEvent} event @param {ViewSignal} view @param {boolean} marks */
function grab(event, view, marks) {
  const pans = view.value.zoom !== 0 && (event.button === 1 || (event.button === 0 && !marks));
  if (event.button !== 2 && !pans) return;
  const target = /** @type {HTMLElement} */ (event.currentTarget);
  target.setPointerCapture(event.pointerId);
  const start = view.value;
  const move = (/** @type {PointerEvent} */ now) => {
    const [dx, dy] = [now.clientX - event.clientX, now.clientY - event.clientY];
    view.value =
      event.button === 2
        ? regreyed(start, dy / 600, 2 ** (-dx / 300))
        : { ...start, panX: start.panX + dx, panY: start.panY + dy };
  };
  const stop = () => {
    target.removeEventListener("pointermove", move);
    target.removeEventListener("pointerup", stop);
    target.removeEventListener("pointercancel", stop);
  };
  target.addEventListener("pointermove", move);
  target.addEventListener("pointerup", stop);
  target.addEventListener("pointercancel", stop);
}

/** Bring the point under the pointer to the middle: no drag is needed to move an enlarged picture (WCAG 2.5.7). @param {MouseEvent} event @param {ViewSignal} view */
function centre(event, view) {
  const box = /** @type {HTMLElement} */ (event.currentTarget).getBoundingClientRect();
  const { panX, panY } = view.value;
  view.value = {
    ...view.value,
    panX: panX + box.left + box.width / 2 - event.clientX,
    panY: panY + box.top + box.height / 2 - event.clientY,
  };
}

/** @param {WheelEvent} event @param {ViewSignal} view @param {{width: number, height: number, ratio: number}} size @param {any} clip */
function turn(event, view, size, clip) {
  event.preventDefault();
  if (Math.abs(event.deltaY) < 4) return;
  enlarge(view, size, clip, event.deltaY < 0 ? 1 : -1);
}

/** @param {ViewSignal} view @param {{width: number, height: number, ratio: number}} size @param {any} clip @param {1 | -1} sense */
export function enlarge(view, size, clip, sense) {
  const fit = fitting(size.width, size.height, clip.cols, clip.rows, size.ratio) * size.ratio;
  view.value = resized(view.value, fit, sense);
}
