// Marks on the frame that stands: set by pointer or by arrow keys, moved by their points.
import { newId } from "./api.js";
import { html, useEffect, useRef, useSignal } from "./html.js";
import { scaleOf } from "./measures.js";
import { markTool, opened, say, state } from "./model.js";
import { MarkShape } from "./overlay.js";
import { toPicture, toScreen } from "./view.js";

/** @type {Record<string, number>} how many points a tool takes; a trace ends by hand */
const TAKES = { point: 1, line: 2, angle: 3, scale: 2, trace: Infinity };
const TRACE_STEP_PX = 4;

/** Two points of the depth scale that wait for their distance. */
export const pendingScale = { points: /** @type {number[][]} */ ([]), frame: 0 };

/** Round to a hundredth of a pixel: no more is meant. @param {number[][]} points */
const tidy = (points) => points.map((point) => point.map((v) => Math.round(v * 100) / 100));

/** @param {{player: import("./player.js").Player, clip: any, reading: any, laid: import("./view.js").Laid, size: {width: number, height: number}}} props */
export function MarkLayer({ player, clip, reading, laid, size }) {
  const draft = useSignal(/** @type {number[][]} */ ([]));
  const cross = useSignal([clip.rows / 2, clip.cols / 2]);
  const moved = useSignal(/** @type {{mark: string, points: number[][]} | null} */ (null));
  const tracing = useRef(false);
  const tool = markTool.value;
  const frame = player.frame.value;
  const scale = scaleOf(reading, state.value.scales[clip.key]);
  const here = state.value.marks.filter((/** @type {any} */ each) => each.clip === clip.key && each.frame === frame);
  useEffect(() => {
    if (tool) player.isPlaying.value = false; // a mark belongs to the frame that stands
    draft.value = [];
  }, [tool, clip.key, frame]);

  const finish = (/** @type {number[][]} */ points) => {
    draft.value = [];
    if (tool === "scale") {
      pendingScale.points = tidy(points);
      pendingScale.frame = frame;
      opened.value = "scale";
      return;
    }
    const payload = { mark: newId(), clip: clip.key, frame, kind: tool, points: tidy(points), landmark: "", label: "" };
    say("draw mark", payload, clip.key);
  };
  const add = (/** @type {number[]} */ point) => {
    player.isPlaying.value = false;
    const next = [...draft.value, point];
    if (next.length >= TAKES[tool]) finish(next);
    else draft.value = next;
  };
  const pointOf = (/** @type {PointerEvent} */ event, /** @type {Element} */ on) => {
    const box = on.getBoundingClientRect();
    return toPicture(laid, event.clientX - box.left, event.clientY - box.top);
  };
  const down = (/** @type {PointerEvent} */ event) => {
    if (event.button !== 0 || !tool) return;
    const on = /** @type {Element} */ (event.currentTarget);
    if (tool === "trace") {
      tracing.current = true;
      on.setPointerCapture(event.pointerId);
      player.isPlaying.value = false;
      draft.value = [...draft.value, pointOf(event, on)];
    } else add(pointOf(event, on));
  };
  const move = (/** @type {PointerEvent} */ event) => {
    if (!tracing.current) return;
    const next = pointOf(event, /** @type {Element} */ (event.currentTarget));
    const last = draft.value[draft.value.length - 1];
    if (Math.hypot(next[0] - last[0], next[1] - last[1]) * laid.scale >= TRACE_STEP_PX)
      draft.value = [...draft.value, next];
  };
  const up = () => {
    if (!tracing.current) return;
    tracing.current = false;
    if (draft.value.length >= 3) finish(draft.value); // a click sets one point, a drawn line is a whole trace
  };
  const press = (/** @type {KeyboardEvent} */ event) => {
    if (!tool) return;
    const by = event.shiftKey ? 10 : 1;
    const way = { ArrowUp: [-by, 0], ArrowDown: [by, 0], ArrowLeft: [0, -by], ArrowRight: [0, by] }[event.key];
    if (way) cross.value = [cross.value[0] + way[0], cross.value[1] + way[1]];
    else if (event.key === " ") add([...cross.value]);
    else if (event.key === "Enter" && tool === "trace" && draft.value.length > 1) finish(draft.value);
    else return;
    event.preventDefault();
  };
  const [cx, cy] = toScreen(laid, cross.value);
  const words = tool
    ? `Marks: ${tool}. Arrow keys move the cross, Space sets a point${tool === "trace" ? ", Enter ends the trace" : ""}.`
    : "Marks";
  return html`<svg
    class="mark-layer"
    width=${size.width}
    height=${size.height}
    tabindex="0"
    role="application"
    aria-label=${words}
    onPointerDown=${down}
    onPointerMove=${move}
    onPointerUp=${up}
    onKeyDown=${press}
  >
    ${here.map((/** @type {any} */ each) => {
      const held = moved.value;
      const points = held && held.mark === each.mark ? held.points : each.points;
      return html`<${MarkShape} key=${each.mark} laid=${laid} mark=${{ ...each, points }} scale=${scale}
        onGrab=${(/** @type {number} */ n, /** @type {PointerEvent} */ event) => drag(event, each, n, laid, moved)} />`;
    })}
    ${draft.value.length ? html`<${MarkShape} laid=${laid} mark=${{ kind: tool, points: draft.value }} scale=${scale} isChosen />` : null}
    <path class="cross" d=${`M${cx - 9} ${cy}h7m4 0h7M${cx} ${cy - 9}v7m0 4v7`} />
  </svg>`;
}

/** Move one point of a mark. @param {PointerEvent} event @param {any} mark @param {number} n @param {import("./view.js").Laid} laid @param {any} moved */
function drag(event, mark, n, laid, moved) {
  if (event.button !== 0 || mark.kind === "trace") return;
  event.stopPropagation();
  const on = /** @type {Element} */ (event.currentTarget);
  const box = /** @type {Element} */ (on.closest("svg")).getBoundingClientRect();
  const go = (/** @type {PointerEvent} */ now) => {
    const point = toPicture(laid, now.clientX - box.left, now.clientY - box.top);
    moved.value = {
      mark: mark.mark,
      points: mark.points.map((/** @type {number[]} */ each, /** @type {number} */ k) => (k === n ? point : each)),
    };
  };
  const stop = () => {
    window.removeEventListener("pointermove", go);
    window.removeEventListener("pointerup", stop);
    const last = moved.value;
    if (!last) return;
    say("move mark", { mark: mark.mark, clip: mark.clip, frame: mark.frame, points: tidy(last.points) }, mark.clip);
    moved.value = null;
  };
  window.addEventListener("pointermove", go);
  window.addEventListener("pointerup", stop);
}
